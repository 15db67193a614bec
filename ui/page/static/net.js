// Asks the page's own routes.  Every failure becomes an Error with a sentence.

const LOST = "The page does not answer. Is dotward still running? It goes on by itself.";
const UNSENT = "Not sent: the page gave no answer. What you typed stays; do it again once it answers.";
const NO_PHOTO = "Not sent. Nothing was added: choose it again, or press “Send it again”.";
const UNKNOWN = "The page gave no answer after the photo was sent. If it does not show here, press "
  + "“Send it again”.";

export class Refused extends Error {
  constructor(message, status) {
    super(message);
    this.status = status;
  }
}

async function told(response, otherwise) {
  let body = null;
  try {
    body = await response.json();
  } catch {
    body = null;
  }
  if (response.ok) return body;
  if (response.status === 401) location.assign("/enter");
  throw new Refused((body && body.message) || otherwise, response.status);
}

// A request that hangs, as on a phone that slept, must not hold up all that follow.
const LONGEST_MS = 20_000;

export async function getJson(url) {
  let response;
  try {
    response = await fetch(url, { cache: "no-store", signal: AbortSignal.timeout(LONGEST_MS) });
  } catch {
    throw new Refused(LOST, 0);
  }
  return told(response, LOST);
}

export async function postJson(url, value, longest = LONGEST_MS) {
  let response;
  try {
    response = await fetch(url, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(value || {}),
      signal: AbortSignal.timeout(longest),
    });
  } catch {
    throw new Refused(UNSENT, 0);
  }
  return told(response, UNSENT);
}

// Sends one file and tells how many bytes have left; stop() ends it for real.
export function sendFile(url, file, onBytes) {
  const request = new XMLHttpRequest();
  let haveAllLeft = false;
  request.upload.onload = () => { haveAllLeft = true; };
  const done = new Promise((resolve, reject) => {
    request.open("POST", url);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.onprogress = (event) => onBytes(event.loaded, file.size);
    request.onload = () => {
      let body = null;
      try {
        body = JSON.parse(request.responseText);
      } catch {
        body = null;
      }
      if (request.status >= 200 && request.status < 300) resolve(body);
      else reject(body?.message ? new Refused(body.message, request.status) : new Refused(UNKNOWN, 0));
    };
    request.onerror = () => reject(new Refused(haveAllLeft ? UNKNOWN : NO_PHOTO, 0));
    request.onabort = () => reject(new Refused("", -1));
    request.send(file);
  });
  return { done, stop: () => request.abort() };
}

export const jobOfPage = () => new URLSearchParams(location.search).get("job") || "";

// The person at work, kept on this device alone.  A role may have a name of its own; as long
// as it has none, the one that was kept for all stands in.
export function person(name, role = "by") {
  const key = `dotward.${role}`;
  try {
    if (name !== undefined) localStorage.setItem(key, name);
    return localStorage.getItem(key) ?? localStorage.getItem("dotward.by") ?? "";
  } catch {
    return "";
  }
}
