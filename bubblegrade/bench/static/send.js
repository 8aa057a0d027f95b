/** What every page sends: with the token of this server, and what comes back, or the fault in one line. */

const REFUSED = 403; // without the server's token
const NEW_CODE = "The bench was started again: give its new code in another tab, then send this once more.";
const meta = (page, name) => page.querySelector(`meta[name="${name}"]`)?.content;
let token = meta(document, "bench-token");

/** What is said where nobody answers. */
export const GONE = "The bench does not answer: start it again, nothing that was kept is lost.";

/** A refusal of the server: its status, the version that is kept where that is newer than the page's, and the fields it is about. */
export class Fault extends Error {
  /** @param {string} line @param {number} status @param {{newer?: string, fields?: string[], row?: string}} [more] */
  constructor(line, status, { newer = "", fields = [], row = "" } = {}) {
    super(line);
    Object.assign(this, { status, newer, fields, row });
  }
}

/**
 * Send a change and return what the server says.
 * @param {string} url
 * @param {object} words
 * @returns {Promise<any>}
 */
export async function send(url, words) {
  const post = () => asked(url, {
    method: "POST",
    headers: { "content-type": "application/json", "x-bench-token": token },
    body: JSON.stringify(words),
  });
  const held = token;
  let answer = await post();
  if (answer.status === REFUSED && (await renewed(held))) answer = await post();
  return read(answer.status, await answer.text());
}

/** Ask the server. @param {string} url @param {object} how */
async function asked(url, how) {
  try {
    return await fetch(url, how);
  } catch {
    throw new Fault(GONE, 0);
  }
}

/**
 * Take the token of a server that was started again on the same folder and log: what was typed here is sent on to it.
 * @param {string} held the token that was refused
 */
async function renewed(held) {
  if (token !== held) return true;
  const answer = await asked(location.href, { cache: "no-store" });
  if (answer.redirected) throw new Fault(NEW_CODE, REFUSED);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = meta(page, "bench-token");
  if (!fresh || fresh === held || meta(page, "bench-place") !== meta(document, "bench-place")) return false;
  token = fresh;
  return true;
}

/** Tell the server something whose answer nobody waits for, also while the page is left. @param {string} url */
export function leave(url) {
  fetch(url, { method: "POST", headers: { "x-bench-token": token }, keepalive: true }).catch(() => {});
}

/**
 * Send a file, telling how much of it has gone.
 * @param {string} url
 * @param {File} file
 * @param {(share: number) => void} gone
 * @returns {{done: Promise<any>, stop: () => void}}
 */
export function sendFile(url, file, gone) {
  const request = new XMLHttpRequest();
  let held = token;
  const put = () => {
    held = token;
    request.open("PUT", url);
    request.setRequestHeader("x-bench-token", token);
    request.send(file);
  };
  const done = new Promise((resolve, reject) => {
    request.upload.onprogress = (event) => gone(event.total ? event.loaded / event.total : 0);
    request.onload = async () => {
      try {
        if (request.status === REFUSED && (await renewed(held))) {
          put();
          return;
        }
        resolve(read(request.status, request.responseText));
      } catch (fault) {
        reject(fault);
      }
    };
    request.onerror = () => reject(new Fault(`${file.name} did not arrive: it is too large, or the bench has ended.`, 0));
    request.onabort = () => reject(new Fault(`${file.name} was cancelled.`, 0));
    put();
  });
  return { done, stop: () => request.abort() };
}

/** @param {number} status @param {string} text */
function read(status, text) {
  let words = {};
  try {
    words = JSON.parse(text);
  } catch {
    words = { fault: text.trim() };
  }
  if (status < 200 || status > 299) {
    throw new Fault(words.fault || `The bench said ${status}.`, status, words);
  }
  return words;
}
