export type { FeedMessage, GivenVerdict, NightControls, NightFeed, NightPictures, NightSnapshot } from './feed.ts';
export type { ServerLog } from './log.ts';
export { startServer } from './startServer.ts';
export type { RunningServer, ServerOptions } from './startServer.ts';
