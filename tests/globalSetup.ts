import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import chromium from '@sparticuz/chromium';

/** The built page, as the daemon serves it. */
const BUILT_PAGE = fileURLToPath(new URL('../.build/ui/index.html', import.meta.url));

/**
 * Runs once before all tests: unpacks the browser (to one fixed place, which two workers must not do at a time), and says where
 * browser tests find it. A missing build is said here and fails the browser tests only. All temporary files go into one folder, and what
 * the tests leave in it fails the run.
 */
export default async function setUp(): Promise<() => void> {
  process.env.NIGHTJAR_CHROMIUM = await chromium.executablePath();
  process.env.NIGHTJAR_BUILT_PAGE = existsSync(BUILT_PAGE) ? BUILT_PAGE : '';
  if (process.env.NIGHTJAR_BUILT_PAGE === '') process.stderr.write('The page is not built: browser tests will fail. Run `npm run build` first.\n');
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-tests-'));
  process.env.TMPDIR = folder;
  return () => {
    // A browser may tidy up a little later than it ends; what is ours is gone by now.
    const left = readdirSync(folder).filter((name) => name.startsWith('nightjar-'));
    rmSync(folder, { recursive: true, force: true, maxRetries: 3 });
    if (left.length > 0) throw new Error(`the tests left behind: ${left.join(', ')}`);
  };
}
