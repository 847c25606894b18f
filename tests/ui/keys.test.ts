import { describe, expect, it } from 'vitest';
import { keyAction } from '../../ui/state/keys.ts';
import type { KeyPress } from '../../ui/state/keys.ts';

const press = (key: string, more: Partial<KeyPress> = {}): KeyPress => ({ key, shift: false, chord: false, focusOn: 'elsewhere', ...more });
const does = (key: string, more: Partial<KeyPress> = {}, letters = true): string | undefined => keyAction(press(key, more), letters)?.do;

describe('keys on Watch', () => {
  it('do what the page says they do', () => {
    expect(['+', '-', '0', 't', 'N', 'p', 'o', 'x', 'h', 'g', 'j', 'u', 'v', 'Z', 'c', 'k', ' ', '?', 'Escape'].map((key) => does(key))).toEqual(['zoomIn', 'zoomOut', 'whole', 'follow', 'next', 'previous', 'outline', 'contrast', 'closeUp', 'there', 'judge', 'judgeNext', 'veil', 'takeBack', 'optics', 'controls', 'pauseOrGoOn', 'help', 'leave']);
    expect(keyAction(press('d'), true)).toEqual({ do: 'only', filter: 'rejected' });
    expect(keyAction(press('3'), true)).toEqual({ do: 'only', filter: 3 });
    expect(does('Escape', { shift: true })).toBe('stop');
    expect(does('q')).toBeUndefined();
  });

  it('are dead in text fields, leave chords to the browser and Space to a focused button', () => {
    expect(does('n', { focusOn: 'text' })).toBeUndefined();
    expect(does('Escape', { focusOn: 'text' })).toBeUndefined();
    expect(does('0', { chord: true })).toBeUndefined();
    expect(does(' ', { focusOn: 'control' })).toBeUndefined();
    expect(does('n', { focusOn: 'control' })).toBe('next');
  });

  it('leave the arrows to a list', () => {
    expect(does('ArrowDown', { focusOn: 'list' })).toBeUndefined();
    expect(keyAction(press('ArrowDown'), true)).toMatchObject({ do: 'pan', right: 0 });
  });

  // WCAG 2.2, 2.1.4 Character Key Shortcuts: there must be a way to turn them off.
  it('can be switched off where they are single characters', () => {
    expect(['n', '0', '3', '+', '?'].map((key) => does(key, {}, false))).toEqual([undefined, undefined, undefined, undefined, undefined]);
    expect([does(' ', {}, false), does('Escape', {}, false), does('ArrowUp', {}, false)]).toEqual(['pauseOrGoOn', 'leave', 'pan']);
  });
});
