// Puts the few browser files of package-lock.json into wwwroot/lib.
// Two builds may run at once: each installs into a folder of its own and moves whole files into place,
// so whoever is second replaces a file by the same file.
import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const project = dirname(fileURLToPath(import.meta.url));
const lib = join(project, 'wwwroot', 'lib');
const sans = weight => [`@fontsource/overpass/files/overpass-latin-${weight}-normal.woff2`, `overpass-${weight}.woff2`];
const mono = weight => [`@fontsource/overpass-mono/files/overpass-mono-latin-${weight}-normal.woff2`, `overpass-mono-${weight}.woff2`];
const wanted = [
  sans(400), sans(600), sans(700), mono(400), mono(600),
  ['@fontsource/overpass/LICENSE', 'overpass-licence.txt'],
  ['@fontsource/overpass-mono/LICENSE', 'overpass-mono-licence.txt'],
  ['htmx.org/dist/htmx.min.js', 'htmx.min.js'],
  ['htmx.org/LICENSE', 'htmx-licence.txt'],
];

mkdirSync(join(project, 'obj'), { recursive: true });
mkdirSync(lib, { recursive: true });
const work = mkdtempSync(join(project, 'obj', 'npm-'));
try {
  for (const file of ['package.json', 'package-lock.json', '.npmrc']) copyFileSync(join(project, file), join(work, file));
  execFileSync('npm', ['ci', '--no-progress', '--loglevel=error'], { cwd: work, stdio: ['ignore', 'ignore', 'inherit'], shell: process.platform === 'win32' });
  for (const [from, to] of wanted) {
    const whole = join(work, to);
    copyFileSync(join(work, 'node_modules', from), whole);
    renameSync(whole, join(lib, to));
  }
  const stamp = join(work, 'stamp');
  writeFileSync(stamp, '');
  renameSync(stamp, join(lib, '.restored'));
} finally {
  rmSync(work, { recursive: true, force: true });
}
