// What the browser checks share: the site's files, a server on loopback, a browser, and a list of complaints.

import { createServer } from 'node:http';
import { readFile, readdir } from 'node:fs/promises';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve, relative, extname } from 'node:path';
import { chromium } from 'playwright-core';

export const folder = resolve(process.env.GOODGROUND_SITE ?? 'site');

const types = {
  '.html': 'text/html; charset=utf-8', '.css': 'text/css', '.js': 'text/javascript', '.svg': 'image/svg+xml',
  '.json': 'application/json', '.woff2': 'font/woff2', '.csv': 'text/csv; charset=utf-8', '.xml': 'application/xml',
  '.atom': 'application/atom+xml', '.png': 'image/png', '.jpg': 'image/jpeg', '.pdf': 'application/pdf', '.txt': 'text/plain',
};

// Every file of the site, by its path below it, in order.
export async function files(ending = '') {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true });
  return entries.filter((entry) => entry.isFile() && entry.name.endsWith(ending))
    .map((entry) => relative(folder, join(entry.parentPath ?? entry.path, entry.name))).sort();
}

// Serves the site on a free port of loopback; `stop` also cuts what is still open.
export async function serve() {
  const server = createServer(async (request, answer) => {
    let path = decodeURIComponent(new URL(request.url, 'http://x').pathname);
    if (path.endsWith('/')) path += 'index.html';
    const file = resolve(folder, '.' + path);
    try {
      if (!file.startsWith(folder)) throw new Error('outside');
      const bytes = await readFile(file);
      answer.writeHead(200, { 'content-type': types[extname(file)] ?? 'application/octet-stream' });
      answer.end(bytes);
    } catch {
      answer.writeHead(404, { 'content-type': 'text/plain' });
      answer.end('not here');
    }
  });
  await new Promise((done) => server.listen(0, '127.0.0.1', done));
  return {
    root: `http://127.0.0.1:${server.address().port}/`,
    stop: () => new Promise((done) => { server.close(done); server.closeAllConnections(); }),
  };
}

const quiet = ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--disable-component-update',
  '--disable-sync', '--no-first-run'];

export async function browser(options = {}) {
  const profile = mkdtempSync(join(tmpdir(), 'goodground-browser-'));
  return chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: quiet, ...options,
  });
}

// Complaints are gathered, so that one run tells of everything.
const complaints = [];
export function complain(where, what) { complaints.push(`${where}: ${what}`); }
export function expect(truth, where, what) { if (!truth) complain(where, what); }
export function finish(said) {
  for (const complaint of complaints) console.error(complaint);
  if (complaints.length) { console.error(`${complaints.length} complaints`); process.exit(1); }
  console.log(`    ${said}`);
  process.exit(0);
}

// Listens for whatever a page must not do: log an error, ask another host, break its own policy.
export function watch(page, root, where) {
  page.on('console', (message) => { if (message.type() === 'error') complain(where(), `logged: ${message.text()}`); });
  page.on('pageerror', (error) => complain(where(), `failed: ${error.message}`));
  page.on('dialog', (dialog) => { complain(where(), `opened a dialog: ${dialog.message()}`); dialog.dismiss(); });
  page.on('request', (request) => {
    if (!request.url().startsWith(root) && !request.url().startsWith('data:') && !request.url().startsWith('blob:')) {
      complain(where(), `asked for ${request.url()}`);
    }
  });
  page.on('requestfailed', (request) => {
    // The browser drops what it is still fetching, the mark for the tab above all, when the page is left: that is no file
    // that is missing or was refused, which fail by other names.
    if (request.failure()?.errorText === 'net::ERR_ABORTED') return;
    complain(where(), `could not load ${request.url()}: ${request.failure()?.errorText}`);
  });
}

// The folders of all guides that are published, not those withdrawn.
export async function guides() {
  const records = await files('guide.json');
  const published = await Promise.all(records.map(async (file) => JSON.parse(await readFile(join(folder, file), 'utf8')).standing.is === 'published'));
  return records.filter((_, i) => published[i]).map((file) => file.slice(0, -'/guide.json'.length));
}
