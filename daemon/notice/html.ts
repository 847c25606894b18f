import { escapeHtml, oneLine } from '../telling/plainText.ts';
import type { NoticeFacts } from './facts.ts';
import { noticeStyle } from './style.ts';
import { dayAndTime } from './times.ts';

/** Longest texts that the page has room for, characters; the schema of the run sheet allows more. */
const contactChars = 110;
const nameChars = 60;

function said(text: string, length: number): string {
  return escapeHtml(oneLine(text, length));
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

function head({ instrument, title, chips, materials, simulated }: NoticeFacts): string {
  return `<header>
<h1>Running unattended</h1>
<p class="big">${said(instrument, nameChars)} moves by itself. Hands off.</p>
<p>Automatic microscope scan “${said(title, nameChars)}”: ${said(chips, 130)}. Material: ${said(materials, 60)}.${simulated ? ' <strong>(The instrument file describes a simulated stage.)</strong>' : ''}</p>
</header>`;
}

function times({ fromMs, forecastEndMs, latestEndMs, marginMin }: NoticeFacts): string {
  return `<section class="times">
<p><span>From</span><b>${dayAndTime(fromMs)}</b></p>
<p><span>Forecast end</span><b>${dayAndTime(forecastEndMs)}</b></p>
<p><span>At the latest</span><b>${dayAndTime(latestEndMs)}</b><small>forecast and a margin of ${marginMin} min; if it still moves then, call</small></p>
</section>`;
}

const stop = `<section class="stop">
<h2>To stop it</h2>
<ol>
<li class="big">Take the power from the motors: the switch is at <span class="blank"></span></li>
<li>Only then, or when nobody is in danger: Stop on Nightjar's page, or Ctrl-C in its terminal. <strong>A stop in software is not a safety device</strong>: a computer, a cable or a controller may hang.</li>
</ol>
</section>`;

function call({ operator, contact }: NoticeFacts): string {
  return `<section class="call">
<h2>To call</h2>
<p class="big">${said(operator, 12)}: ${said(contact, contactChars)}</p>
<p>Responsible for the room: <span class="blank wide"></span></p>
</section>`;
}

function list(lines: readonly string[]): string {
  return `<ul>${lines.map((line) => `<li>${escapeHtml(line)}</li>`).join('')}</ul>`;
}

function hazards(facts: NoticeFacts): string {
  return `<section><h2>What can hurt you</h2>${list(facts.hazards)}</section>`;
}

function leaveAlone(facts: NoticeFacts): string {
  return `<section><h2>Please leave alone</h2>${list(facts.leaveAlone)}</section>`;
}

const approval = `<footer>
<p>The rules of this room and its trained people decide whether this may run alone; this page does not. Without a signature here it is not approved.</p>
<p>Approved for unattended running (name, date, signature): <span class="blank wide"></span></p>
</footer>`;
