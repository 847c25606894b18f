import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import chromium from '@sparticuz/chromium';

/** The built page, as the daemon serves it. */
const BUILT_PAGE = fileURLToPath(new URL('../.build/ui/index.html', import.meta.url));

/**
 * Runs once before all tests: unpacks the browser (to one fixed place, which two workers must not do at a time), and says where
 * browser tests find it. A missing build is said here and fails the browser tests only.
 */
export default async function setUp(): Promise<void> {
  process.env.NIGHTJAR_CHROMIUM = await chromium.executablePath();
  process.env.NIGHTJAR_BUILT_PAGE = existsSync(BUILT_PAGE) ? BUILT_PAGE : '';
  if (process.env.NIGHTJAR_BUILT_PAGE === '') process.stderr.write('The page is not built: browser tests will fail. Run `npm run build` first.\n');
}
