import { readTheme } from './state/preferences.ts';
import './styles/tokens.css';
import './styles/base.css';
import './styles/door.css';

/** The door: takes the token once, and the session's cookie, which no script can read, does the rest. */

const SILENT = 'The daemon does not answer. Check that it runs, then try again.';

function element<T extends HTMLElement>(id: string, kind: new () => T): T {
  const found = document.getElementById(id);
  if (!(found instanceof kind)) throw new Error(`the door has no ${id}`);
  return found;
}

const form = element('door', HTMLFormElement);
const token = element('token', HTMLInputElement);
const show = element('show', HTMLInputElement);
const said = element('said', HTMLParagraphElement);

function goIn(): void {
  location.replace('/');
}

/** Gives the token in the body of a request: it never stands in an address. */
async function give(): Promise<void> {
  said.textContent = '';
  const response = await fetch('/door', { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ token: token.value }) }).catch(() => undefined);
  if (response?.ok) {
    token.value = '';
    goIn();
    return;
  }
  said.textContent = response ? await response.text() : SILENT;
  token.select();
}

document.documentElement.dataset.theme = readTheme();
form.addEventListener('submit', (event) => {
  event.preventDefault();
  void give();
});
show.addEventListener('change', () => (token.type = show.checked ? 'text' : 'password'));
token.focus();
// Whoever comes by a link on another site's page brings no cookie at first, and may be let in all the same.
fetch('/door').then(({ ok }) => ok && goIn(), () => undefined);
