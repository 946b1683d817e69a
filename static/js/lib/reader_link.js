// @ts-check
const TIMEOUT_MS = 8000;

/**
 * @typedef {{address: string, said: string, copied: boolean}} Made
 */

/**
 * Make a read-only link and put it on the clipboard where the browser lets us: on this machine, and over TLS.
 * @param {string} path the case's address in the API
 * @returns {Promise<Made | string>} or the sentence that says why there is none
 */
export async function makeReaderLink(path) {
  const signal = AbortSignal.timeout(TIMEOUT_MS);
  const answer = await fetch(`${path}/reader-link`, { method: "POST", signal }).catch(() => null);
  const found = await answer?.json().catch(() => null);
  if (!answer?.ok || !found?.address) return found?.error ?? "The server doesn’t answer; try again.";
  const copied = await (navigator.clipboard?.writeText(found.address) ?? Promise.reject()).then(
    () => true,
    () => false,
  );
  const ends = new Date(found.expires_at).toLocaleDateString(undefined, { dateStyle: "long" });
  const reach = found.for_others ? "" : " It leads here from this machine only: start the server with --host and --allow-host to let others in.";
  return { address: found.address, copied, said: `${copied ? "Copied. " : ""}Good until ${ends}; opens this case only, and changes nothing.${reach}` };
}
