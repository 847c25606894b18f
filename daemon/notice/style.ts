/**
 * The look of the notice. What matters at the door is 30 pt and more, so that its capitals are 7 to 8 mm high: seen at 2 m under 12
 * minutes of arc, more than twice what normal sight resolves (5 minutes of arc: definition of visual acuity 1.0, from memory).
 * The page is 186 x 250 mm, which both A4 and Letter hold. Black on white, no colours, no signs.
 */
export const noticeStyle = `
@page { size: auto; margin: 10mm 12mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #000; font-family: "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans", sans-serif; }
body { margin: 0; }
main { width: 186mm; height: 250mm; margin: 0 auto; display: flex; flex-direction: column; justify-content: space-between; overflow: hidden; page-break-after: avoid; }
h1 { font-size: 46pt; line-height: 1; margin: 0 0 2mm; padding-bottom: 2mm; border-bottom: 1.6mm solid #000; }
h2 { font-size: 19pt; line-height: 1; margin: 0 0 1.2mm; }
p, li { font-size: 13.5pt; line-height: 1.22; margin: 0 0 1mm; overflow-wrap: anywhere; }
ul, ol { margin: 0; padding-left: 6mm; }
.big { font-size: 24pt; line-height: 1.1; font-weight: bold; }
section.times { display: grid; grid-template-columns: repeat(3, 1fr); gap: 3mm; border: 0.8mm solid #000; padding: 2.5mm 3mm; }
.times p { margin: 0; }
.times span, .times b, .times small { display: block; }
.times b { font-size: 22pt; line-height: 1.1; }
.times small { font-size: 10.5pt; line-height: 1.15; margin-top: 1mm; }
section.stop { border: 1.6mm solid #000; padding: 3mm 4mm; }
.blank { display: inline-block; min-width: 60mm; height: 0.8em; border-bottom: 0.5mm solid #000; }
.blank.wide { min-width: 92mm; height: 1.3em; }
footer { border-top: 0.8mm solid #000; padding-top: 2mm; }
@media screen { main { margin: 10mm auto; } }
`;
