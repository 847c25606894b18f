import koffi, { type LibraryHandle } from 'koffi';
import { DriverError } from '../interfaces/index.ts';

/** A pointer of the library. */
export type Handle = bigint;

/** What the codes of the library's own errors mean to us: ArvDeviceError in arvdevice.h, counted from 0. */
export type LibraryProblem = 'notConnected' | 'timeout' | 'notFound' | 'notController' | 'other';

const problems: Readonly<Record<number, LibraryProblem>> = { 2: 'notConnected', 5: 'timeout', 6: 'notFound', 10: 'notController', 17: 'notController', 18: 'notController' };

/** The library refused or failed: never leaves the worker, see problems.ts. */
export class LibraryError extends Error {
  readonly problem: LibraryProblem;
  readonly call: string;

  constructor(problem: LibraryProblem, call: string, message: string) {
    super(message);
    this.name = 'LibraryError';
    this.problem = problem;
    this.call = call;
  }
}

/** GLib's GError: its domain says which library's codes these are. */
interface GError {
  readonly domain: number;
  readonly code: number;
  readonly message: string | null;
}

export interface Binding {
  /** A call that cannot fail. */
  readonly plain: <A extends readonly unknown[], R>(name: string, result: string, parameters: readonly unknown[]) => (...args: A) => R;
  /** A call whose last parameter is a `GError **`, which is added here: throws LibraryError, so that an error never looks like success. */
  readonly fallible: <A extends readonly unknown[], R>(name: string, result: string, parameters: readonly unknown[]) => (...args: A) => R;
}

/** An argument that the library writes to: pass `[0]`, read `[0]`. */
export function out(type: string): unknown {
  return koffi.out(koffi.pointer(type));
}

/** RTLD_NOW of POSIX's dlfcn.h, as Linux numbers it. */
const NOW = 2;

/**
 * One more reference to the library, which nobody ever gives back. koffi gives its own back when a worker ends; the library would leave
 * the process then, and come in again broken, since GLib keeps the types that it registered the first time.
 */
function keepLoaded(libraryName: string): void {
  const dlopen = koffi.load(null).func('dlopen', 'void *', ['const char *', 'int']) as (name: string, flags: number) => Handle | null;
  dlopen(libraryName, NOW);
}

/** Loads the library. Throws `libraryMissing` with the name of the Debian package. */
export function bind(libraryName: string): Binding {
  let library: LibraryHandle;
  try {
    library = koffi.load(libraryName);
  } catch (error) {
    throw new DriverError('libraryMissing', { library: libraryName, debianPackage: 'libaravis-0.8-0' }, { cause: error });
  }
  keepLoaded(libraryName);
  const errorType = koffi.struct({ domain: 'uint32', code: 'int', message: 'const char *' });
  const free = library.func('g_error_free', 'void', ['void *']) as (error: Handle) => void;
  const deviceDomain = (library.func('arv_device_error_quark', 'uint32', []) as () => number)();
  const throwIfSet = (call: string, error: Handle | null) => {
    if (error === null) return;
    const { domain, code, message } = koffi.decode(error, errorType) as GError;
    free(error);
    throw new LibraryError((domain === deviceDomain ? problems[code] : undefined) ?? 'other', call, message ?? `code ${code}`);
  };
  type Declared = (...args: readonly unknown[]) => unknown;
  const declare = (name: string, result: string, parameters: readonly unknown[]) => library.func(name, result, parameters as string[]) as Declared;
  return {
    plain: <A extends readonly unknown[], R>(name: string, result: string, parameters: readonly unknown[]) => declare(name, result, parameters) as unknown as (...args: A) => R,
    fallible<A extends readonly unknown[], R>(name: string, result: string, parameters: readonly unknown[]) {
      const call = declare(name, result, [...parameters, out('void *')]);
      return (...args: A) => {
        const error: [Handle | null] = [null];
        const value = call(...args, error);
        throwIfSet(name, error[0]);
        return value as R;
      };
    },
  };
}
