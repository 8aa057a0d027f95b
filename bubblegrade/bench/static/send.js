/** What every page sends: with the token of this server, and what comes back, or the fault in one line. */

const token = document.querySelector('meta[name="bench-token"]').content;

/** What is said where nobody answers. */
export const GONE = "The bench does not answer: start it again, nothing that was kept is lost.";

/** A refusal of the server, with its status, and the version that is kept where that is newer than the page's. */
export class Fault extends Error {
  /** @param {string} line @param {number} status @param {string} [newer] */
  constructor(line, status, newer = "") {
    super(line);
    this.status = status;
    this.newer = newer;
  }
}

/**
 * Send a change and return what the server says.
 * @param {string} url
 * @param {object} words
 * @returns {Promise<any>}
 */
export async function send(url, words) {
  let answer;
  try {
    answer = await fetch(url, {
      method: "POST",
      headers: { "content-type": "application/json", "x-bench-token": token },
      body: JSON.stringify(words),
    });
  } catch {
    throw new Fault(GONE, 0);
  }
  return read(answer.status, await answer.text());
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
  const done = new Promise((resolve, reject) => {
    request.open("PUT", url);
    request.setRequestHeader("x-bench-token", token);
    request.upload.onprogress = (event) => gone(event.total ? event.loaded / event.total : 0);
    request.onload = () => {
      try {
        resolve(read(request.status, request.responseText));
      } catch (fault) {
        reject(fault);
      }
    };
    request.onerror = () => reject(new Fault(`${file.name} did not arrive: it is too large, or the bench has ended.`, 0));
    request.onabort = () => reject(new Fault(`${file.name} was cancelled.`, 0));
    request.send(file);
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
    throw new Fault(words.fault || `The bench said ${status}.`, status, words.newer);
  }
  return words;
}
