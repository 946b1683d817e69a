// @ts-check
/**
 * @typedef {{[name: string]: any}} Edit
 * @typedef {{summary: string | null, warnings: string | null, mechanics: string | null, screws: string | null, order: string | null, setup: string | null, head: string | null}} Panels
 * @typedef {{seq: number, version: number, construct: number, drawing: string | string[], panels: Panels, status: string}} Redraw
 * @typedef {{status: number, error: string, faults: {path: string, message: string}[]}} Problem
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
 * Post to one of the case's addresses. Rejects only if no answer came.
 * @param {string} path @param {object} body @param {number | null} version the version for If-Match
 * @param {boolean} parting whether it must outlive the page, as every write does
 * @returns {Promise<Answer>}
 */
export async function post(path, body, version = null, parting = version !== null) {
  /** @type {{[name: string]: string}} */
  const headers = { "Content-Type": "application/json" };
  if (version !== null) headers["If-Match"] = `"${version}"`;
  const signal = AbortSignal.timeout(TIMEOUT_MS);
  const text = JSON.stringify(body);
  // A write outlives the page that it was made on; browsers keep only small ones alive.
  const keepalive = parting && text.length < KEPT_ALIVE_CHARACTERS;
  const response = await fetch(path, { method: "POST", headers, body: text, signal, keepalive });
  const data = await response.json().catch(() => null);
  if (response.ok && data) return { ok: true, redraw: data };
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
