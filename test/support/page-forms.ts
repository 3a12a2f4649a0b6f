import type { TestApp } from './app.js';

/** A form as a browser sends it; answers the status, where it leads and what it shows. */
export async function sendForm(app: TestApp, path: string, form: Record<string, string>) {
  const headers = { 'content-type': 'application/x-www-form-urlencoded', accept: 'text/html' };
  const answer = await app.request('POST', path, new URLSearchParams(form).toString(), headers);
  return { status: answer.status, location: answer.headers['location'], text: answer.text };
}

/** What a page shows. */
export const pageText = async (app: TestApp, path: string): Promise<string> =>
  (await app.request('GET', path, undefined, { accept: 'text/html' })).text;
