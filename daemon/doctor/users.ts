import type { Surroundings } from './surroundings.ts';

/** The fields of each line of a file like passwd(5) or group(5). */
async function table(surroundings: Surroundings, file: string): Promise<readonly (readonly string[])[]> {
  const text = (await surroundings.readText(file)) ?? '';
  return text.split('\n').map((line) => line.split(':'));
}

/** Of this user; as the shell puts it in where the computer's own list does not have it. */
export async function userName(surroundings: Surroundings): Promise<string> {
  const entry = (await table(surroundings, '/etc/passwd')).find(([, , uid]) => uid === String(surroundings.user.uid));
  return entry?.[0] ?? surroundings.env('LOGNAME') ?? surroundings.env('USER') ?? '$USER';
}

export interface Group {
  readonly name: string;
  readonly gid: number;
  /** Listed by name; a user's own first group is not. */
  readonly members: readonly string[];
}

/** The groups of the computer's own list; others may come over the network. */
export async function groups(surroundings: Surroundings): Promise<readonly Group[]> {
  const entries = await table(surroundings, '/etc/group');
  return entries.flatMap(([name = '', , gid = '', members = '']) => (name === '' || !/^\d+$/.test(gid) ? [] : [{ name, gid: Number(gid), members: members.split(',') }]));
}

/** Whether this process may do everything. */
export function isRoot({ user }: Surroundings): boolean {
  return user.uid === 0;
}
