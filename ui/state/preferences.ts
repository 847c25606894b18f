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

/** Whether predictions are hidden, for judging without them. */
export function readVeil(): boolean {
  return read('veil') === 'on';
}

export function keepVeil(on: boolean): void {
  write('veil', on ? 'on' : 'off');
}

/** Under whose initials layer numbers are given here; empty until somebody says. */
export function readInitials(): string {
  return read('initials') ?? '';
}

export function keepInitials(initials: string): void {
  write('initials', initials);
}

/** What the others are shown when the controls are taken here; empty until somebody says. */
export function readName(): string {
  return read('name') ?? '';
}

export function keepName(name: string): void {
  write('name', name);
}

/** With what this tab is known again after a reload: kept with the tab, and gone with it. */
export function readControlsKey(): string | null {
  try {
    return sessionStorage.getItem('nightjar.controls');
  } catch {
    return null;
  }
}

export function keepControlsKey(key: string): void {
  try {
    sessionStorage.setItem('nightjar.controls', key);
  } catch {
    // Then a reload gives the controls up after a minute.
  }
}

/** The flakes of a night whose predictions this browser has shown; of one night only. */
export function readShown(runId: string): readonly string[] {
  const [of, ...ids] = (read('shown') ?? '').split('\n');
  return of === runId ? ids : [];
}

export function keepShown(runId: string, ids: readonly string[]): void {
  write('shown', [runId, ...ids].join('\n'));
}

/** How long a thing that moves takes, ms. */
export function calmMs(): number {
  return matchMedia('(prefers-reduced-motion: reduce)').matches ? 0 : 180;
}
