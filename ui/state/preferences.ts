/** What one person likes on one computer; kept in the browser. A browser that keeps nothing is no error. */

export type Theme = 'dark' | 'light';

function read(key: string): string | null {
  try {
    return localStorage.getItem(`nightjar.${key}`);
  } catch {
    return null;
  }
}

function write(key: string, value: string): void {
  try {
    localStorage.setItem(`nightjar.${key}`, value);
  } catch {
    // Private windows may refuse: the choice then lasts as long as the page.
  }
}

/** The theme last chosen; dark until then, whatever the system prefers: the page stands beside eyepieces in a dark room. */
export function readTheme(): Theme {
  return read('theme') === 'light' ? 'light' : 'dark';
}

export function keepTheme(theme: Theme): void {
  write('theme', theme);
}

/** Whether single-character keys do anything. */
export function readLetters(): boolean {
  return read('letters') !== 'off';
}

export function keepLetters(on: boolean): void {
  write('letters', on ? 'on' : 'off');
}

/** How long a thing that moves takes, ms. */
export function calmMs(): number {
  return matchMedia('(prefers-reduced-motion: reduce)').matches ? 0 : 180;
}
