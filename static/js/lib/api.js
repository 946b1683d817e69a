// @ts-check
/**
 * @typedef {{[name: string]: any}} Edit
 * @typedef {{readings: string | null, summary: string | null, warnings: string | null, mechanics: string | null, screws: string | null, order: string | null, setup: string | null, head: string | null}} Panels
 * @typedef {{seq: number, version: number, construct: number, drawing: string | string[], panels: Panels, status: string, reached?: number | null}} Redraw
 * @typedef {{status: number, error: string, faults: {path: string, message: string}[], written?: boolean | null}} Problem
 * @typedef {{ok: true, redraw: Redraw} | {ok: false, status: number, problem: Problem, version: number | null}} Answer
 */

const TIMEOUT_MS = 15000;
const KEPT_ALIVE_CHARACTERS = 15000;

/** @param {Response} response @returns {number | null} the version in its ETag */
function versionOf(response) {
  const match = /^"(\d+)"$/.exec(response.headers.get("ETag") ?? "");
  return match ? Number(match[1]) : null;
}

/**
 * A key for one write: whatever is sent again with it happens once. Not crypto.randomUUID, which pages without TLS lack.
 * @returns {string}
 */
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** @param {string} key @returns {{[name: string]: string}} the header that carries it, draft-ietf-httpapi-idempotency-key-header */
export function keyHeader(key) {
  return { "Idempotency-Key": `"${key}"` };
}

/**
 * Post to one of the case's addresses. Rejects only if no answer came, or none that is ours.
 * @param {string} path @param {object} body
 * @param {{version: number, key: string} | null} write the version for If-Match, and the write's key; null: nothing is written
 * @param {boolean} parting whether it must outlive the page, as every write does
 * @returns {Promise<Answer>}
 */
export async function post(path, body, write = null, parting = write !== null) {
  /** @type {{[name: string]: string}} */
  const headers = { "Content-Type": "application/json" };
  if (write) Object.assign(headers, { "If-Match": `"${write.version}"` }, keyHeader(write.key));
  const signal = AbortSignal.timeout(TIMEOUT_MS);
  const text = JSON.stringify(body);
  // Browsers keep only small requests alive beyond their page.
  const keepalive = parting && text.length < KEPT_ALIVE_CHARACTERS;
  const response = await fetch(path, { method: "POST", headers, body: text, signal, keepalive });
  const data = await response.json().catch(() => null);
  if (response.ok && data?.panels) return { ok: true, redraw: data };
  if (response.ok) throw new Error("an answer, but cut off on the way or not the server’s");
  const problem = data?.error ? data : { status: response.status, error: "The server gave no proper answer.", faults: [] };
  return { ok: false, status: response.status, problem, version: versionOf(response) };
}

/** @param {string} path @returns {Promise<any>} decoded JSON, or null */
export async function get(path) {
  const response = await fetch(path, { signal: AbortSignal.timeout(TIMEOUT_MS) });
  return response.ok ? response.json() : null;
}

/**
 * A copy of an edit with one field set; `field` may be dotted.
 * @param {string} template JSON of the edit @param {string} field @param {any} value @returns {Edit}
 */
export function filled(template, field, value) {
  const edit = JSON.parse(template);
  const steps = field.split(".");
  const last = /** @type {string} */ (steps.pop());
  let place = edit;
  for (const step of steps) place = place[step];
  place[last] = value;
  return edit;
}
