// Asks the page's own routes.  Every failure becomes an Error with a sentence.

const LOST = "The page does not answer. Is dotward still running? It goes on by itself.";

export class Refused extends Error {
  constructor(message, status) {
    super(message);
    this.status = status;
  }
}

async function told(response) {
  let body = null;
  try {
    body = await response.json();
  } catch {
    body = null;
  }
  if (response.ok) return body;
  if (response.status === 401) location.assign("/enter");
  throw new Refused((body && body.message) || LOST, response.status);
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
  return told(response);
}

export async function postJson(url, value) {
  let response;
  try {
    response = await fetch(url, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(value || {}),
    });
  } catch {
    throw new Refused(LOST, 0);
  }
  return told(response);
}

// Sends one file and tells how many bytes have left; stop() ends it for real.
export function sendFile(url, file, onBytes) {
  const request = new XMLHttpRequest();
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
      else reject(new Refused((body && body.message) || LOST, request.status));
    };
    request.onerror = () => reject(new Refused(LOST, 0));
    request.onabort = () => reject(new Refused("", -1));
    request.send(file);
  });
  return { done, stop: () => request.abort() };
}

export const jobOfPage = () => new URLSearchParams(location.search).get("job") || "";

// The person at work, kept on this device alone.
export function person(name) {
  try {
    if (name !== undefined) localStorage.setItem("dotward.by", name);
    return localStorage.getItem("dotward.by") || "";
  } catch {
    return "";
  }
}
