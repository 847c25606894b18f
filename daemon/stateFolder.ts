import { homedir } from 'node:os';
import { join } from 'node:path';

/** Where this user's programs keep what they remember (XDG Base Directory Specification). */
export function stateFolder(env: NodeJS.ProcessEnv): string {
  const named = env.XDG_STATE_HOME;
  return join(named?.startsWith('/') ? named : join(homedir(), '.local', 'state'), 'nightjar');
}
