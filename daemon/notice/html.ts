import { escapeMarkup, oneLine } from '../markup.ts';
import type { NoticeFacts } from './facts.ts';
import { noticeStyle } from './style.ts';
import { dayAndTime } from './times.ts';

/** As long as the schemas of both files allow: whom to call is never cut. */
const contactChars = 200;
const nameChars = 60;
/** From so many characters on, a line in the largest letters takes more room than there is. */
const longChars = 50;

function said(text: string, length: number): string {
  return escapeMarkup(oneLine(text, length));
}

/** The notice for the door: one page, complete in itself, black on white, to be printed on A4 or Letter. */
export function noticeHtml(facts: NoticeFacts): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>${said(`Notice: ${facts.title}`, 100)}</title>
<style>${noticeStyle}</style>
</head>
<body>
<main>
${[head(facts), times(facts), stop, call(facts), hazards(facts), leaveAlone(facts), approval].join('\n')}
</main>
</body>
</html>
`;
}

/** Large letters, and less large ones for what is long. */
function big(text: string): string {
  return text.length > longChars ? 'big long' : 'big';
}

function head({ instrument, title, chips, materials, simulated }: NoticeFacts): string {
  return `<header>
<h1>Running unattended</h1>
<p class="${big(instrument)}">${said(instrument, nameChars)} moves by itself. Hands off.</p>
<p>Automatic microscope scan “${said(title, nameChars)}”: ${said(chips, 130)}. Material: ${said(materials, 60)}.${simulated ? ' <strong>(The instrument file describes a simulated stage.)</strong>' : ''}</p>
</header>`;
}

function times({ fromMs, forecastEndMs, latestEndMs, marginMin }: NoticeFacts): string {
  return `<section class="times">
<p><span>From</span><b>${dayAndTime(fromMs)}</b></p>
<p><span>Forecast end</span><b>${dayAndTime(forecastEndMs)}</b></p>
<p><span>At the latest</span><b>${dayAndTime(latestEndMs)}</b></p>
<p class="all">The latest end is the forecast and a margin of ${marginMin} min. If it still moves then, call.</p>
</section>`;
}

const stop = `<section class="stop">
<h2>To stop it</h2>
<ol>
<li class="big">Take the power from the motors. Switch: <span class="blank"></span></li>
<li>Where nobody is in danger: Stop on Nightjar's page, or Ctrl-C in its terminal. <strong>A stop in software is not a safety device</strong>: a computer, a cable or a controller may hang.</li>
</ol>
</section>`;

function call({ operator, contact }: NoticeFacts): string {
  return `<section class="call">
<h2>To call</h2>
<p class="${big(contact)}">${said(operator, 12)}: ${said(contact, contactChars)}</p>
<p>Responsible for the room: <span class="blank wide"></span></p>
</section>`;
}

function list(lines: readonly string[]): string {
  return `<ul>${lines.map((line) => `<li>${escapeMarkup(line)}</li>`).join('')}</ul>`;
}

function hazards(facts: NoticeFacts): string {
  return `<section><h2>What can hurt you</h2>${list(facts.hazards)}</section>`;
}

function leaveAlone(facts: NoticeFacts): string {
  return `<section><h2>Please leave alone</h2>${list(facts.leaveAlone)}</section>`;
}

const approval = `<footer>
<p>The rules of this room and its trained people decide whether this may run alone; this page does not. Without a signature here it is not approved.</p>
<p>Approved (name, date, signature): <span class="blank wide"></span></p>
</footer>`;
