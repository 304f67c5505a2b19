// Judges that are not ours: the Nu checker on every page and drawing, xmllint with schemas on the feed and the sitemap, a JSON
// Schema validator on every guide.json and on the HowTo in each page.

import { execFile, execFileSync } from 'node:child_process';
import { access, readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { complain, expect, files, finish, folder, serve } from './lib-site.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const resolve = createRequire(import.meta.url).resolve;

// The checker's complaints about some addresses. It fetches them from the server, so that it knows what a page's policy means
// by 'self'.
const vnu = join(dirname(resolve('vnu-jar/package.json')), 'build', 'dist', 'vnu.jar');
async function nu(addresses) {
  const run = promisify(execFile)('java', ['-Xss2m', '-Dnu.validator.servlet.allow-forbidden-hosts=true', '-jar', vnu, '--also-check-svg', '--format', 'json', ...addresses], { maxBuffer: 1 << 28 });
  // It tells of complaints by its exit status too.
  const { stderr } = await run.catch((failed) => failed);
  return JSON.parse(stderr).messages.filter((message) => message.type !== 'info' || message.subType === 'warning');
}

const server = await serve();
const pages = await files('.html');
const drawings = await files('.svg');
const [ofPages, ofFiles] = await Promise.all([
  nu(pages.map((path) => server.root + path)),
  // Drawings by their file names, from which it takes that they are SVG; and two files that are wrong on purpose: a judge who
  // finds nothing wrong with these does not judge.
  nu([...drawings.map((path) => join(folder, path)), join(here, 'spoilt/spoilt.html'), join(here, 'spoilt/spoilt.svg')]),
]);
const isSpoilt = (message) => /\/spoilt\.(html|svg)$/.test(message.url ?? '');
const spoilt = ofFiles.filter(isSpoilt);
const plain = [...ofPages, ...ofFiles.filter((message) => !isSpoilt(message))];
for (const name of ['spoilt.html', 'spoilt.svg']) {
  expect(spoilt.some((message) => message.url?.endsWith(name)), name, 'the checker finds nothing wrong with it');
}
for (const message of plain) {
  // A block of data is no script: HTML's "prepare the script element" leaves it alone before it asks the policy.
  if (/^Inline script violates/.test(message.message) && message.extract?.includes('<script type="application/ld+json">')) continue;
  complain(message.url?.replace(server.root, '').replace(`file:${folder}/`, '') ?? 'vnu', `${message.lastLine}: ${message.message} ${message.extract?.slice(0, 120) ?? ''}`);
}
await server.stop();

const there = async (path) => access(join(folder, path)).then(() => true, () => false);
for (const [file, schema] of [['news.atom', 'atom.rng'], ['sitemap.xml', 'sitemap.rng']]) {
  if (!await there(file)) { complain(file, 'is not there'); continue; }
  try {
    execFileSync('xmllint', ['--noout', '--nonet', '--relaxng', join(here, schema), join(folder, file)], { stdio: 'pipe' });
  } catch (error) {
    complain(file, String(error.stderr));
  }
}

const { default: Ajv } = await import('ajv/dist/2020.js');
const ajv = new Ajv({ strict: false, allErrors: true, validateFormats: false });
const schema = JSON.parse(await readFile(join(folder, 'guide.schema.json'), 'utf8'));
const isGuide = ajv.compile(schema);
const isHowTo = ajv.compile(JSON.parse(await readFile(join(here, 'how-to.schema.json'), 'utf8')));
const records = await files('guide.json');
for (const file of records) {
  const record = JSON.parse(await readFile(join(folder, file), 'utf8'));
  if (!isGuide(record)) complain(file, ajv.errorsText(isGuide.errors));
  if (record.standing.is !== 'published') continue;
  const page = await readFile(join(folder, dirname(file), 'index.html'), 'utf8');
  const block = /<script type="application\/ld\+json">(.*?)<\/script>/s.exec(page)?.[1];
  expect(block, file, 'its page has no JSON-LD');
  if (block && !isHowTo(JSON.parse(block))) complain(dirname(file), ajv.errorsText(isHowTo.errors));
}
finish(`${pages.length} pages, ${drawings.length} drawings, ${records.length} guides, feed and sitemap`);
