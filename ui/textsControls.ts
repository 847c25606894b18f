import type { Standing } from './state/controls.ts';
import { timeOfDay } from './format.ts';

/** English texts about who has the controls. */
export const controlsTexts = {
  label: 'Who has the controls',
  line: (standing: Standing): string => {
    switch (standing.is) {
      case 'unknown':
        return '';
      case 'free':
        return 'Nobody has the controls. The first action takes them, as';
      case 'yours':
        return `You have the controls until ${timeOfDay(standing.untilMs)}`;
      case 'asked':
        return `${standing.by} asks for the controls; they pass on at ${timeOfDay(standing.untilMs, true)}`;
      case 'watching':
        if (standing.asker !== undefined) return `Watching. ${standing.holder} has the controls; ${standing.asker} has asked for them`;
        return `Watching. ${standing.holder} has the controls${standing.isGone ? ', and is gone;' : ''} until ${timeOfDay(standing.untilMs, standing.isGone)}`;
      case 'asking':
        return `Watching. You asked ${standing.holder}; yours at ${timeOfDay(standing.untilMs, true)} unless they act`;
    }
  },
  about: 'Only who has the controls can move the stage or change the night. Anyone can stop it. They are free again after 10 minutes without use.',
  do: { free: 'Take them', yours: 'Give them up', asked: 'Keep them', watching: 'Ask for them', asking: 'Never mind', unknown: '' } satisfies Record<Standing['is'], string>,
  give: 'Give them',
  name: 'Your name, for the others',
  nameless: 'this browser',
  /** Some who have no name are `a browser ...`. */
  needs: (holder: string): string => `${holder.replace(/^a /, 'A ')} has the controls: ask for them with K.`,
};
