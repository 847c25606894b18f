/**
 * The look of the notice. What matters at the door (that it moves, until when, the switch, whom to call) is 20 pt and more, so that its
 * capitals are 5 mm high and more: seen at 2 m under 8.6 minutes of arc, where normal sight resolves letters of 5 (definition of visual
 * acuity 1.0, from memory). The rest is for who comes nearer. The page is 190 x 256 mm, which both A4 and Letter hold. Black on white, no
 * colours, no signs.
 */
export const noticeStyle = `
@page { size: auto; margin: 10mm 10mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #000; font-family: "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans", sans-serif; }
body { margin: 0; }
main { width: 190mm; height: 256mm; margin: 0 auto; display: flex; flex-direction: column; justify-content: space-between; overflow: hidden; }
h1 { font-size: 36pt; line-height: 1; margin: 0 0 1mm; padding-bottom: 1mm; border-bottom: 1.4mm solid #000; }
h2 { font-size: 15pt; line-height: 1; margin: 0 0 0.8mm; }
p, li { font-size: 11.5pt; line-height: 1.15; margin: 0 0 0.5mm; overflow-wrap: anywhere; }
ul, ol { margin: 0; padding-left: 5mm; }
.big { font-size: 20pt; line-height: 1.08; font-weight: bold; }
.big.long { font-size: 14pt; }
section.times { display: grid; grid-template-columns: repeat(3, 1fr); column-gap: 3mm; border: 0.8mm solid #000; padding: 1.5mm 3mm; }
.times p { margin: 0; }
.times span, .times b { display: block; }
.times b { font-size: 20pt; line-height: 1.1; }
.times p.all { grid-column: 1 / 4; }
section.stop { border: 1.6mm solid #000; padding: 2mm 3mm; }
.stop ol { padding-left: 8mm; }
.blank { display: inline-block; min-width: 60mm; height: 0.8em; border-bottom: 0.5mm solid #000; }
.blank.wide { min-width: 80mm; height: 1.5em; }
footer { border-top: 0.8mm solid #000; padding-top: 1.5mm; }
@media screen { main { margin: 10mm auto; } }
`;
