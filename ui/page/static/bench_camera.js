// A camera or USB microscope at this machine, seen live.  Browsers allow it on the
// machine itself and over TLS only.

import { button, el } from "/own/dom.js";

const WANTED = { audio: false, video: { width: { ideal: 3840 }, height: { ideal: 2160 },
  facingMode: { ideal: "environment" } } };

function grab(video) {
  const canvas = el("canvas", { width: video.videoWidth, height: video.videoHeight });
  canvas.getContext("2d").drawImage(video, 0, 0);
  return new Promise((resolve) => { canvas.toBlob(resolve, "image/jpeg", 0.95); });
}

// Gives a JPEG, or null where the person closed the view.
export async function openCamera() {
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia(WANTED);
  } catch (error) {
    throw new Error(`No live picture: the browser says “${error.name}”. Plug the camera in, `
      + "allow it in the browser, or choose a photo instead.");
  }
  const video = el("video", { autoplay: true, playsinline: true, muted: true });
  video.srcObject = stream;
  const size = el("p", { class: "dw-soft" });
  video.addEventListener("loadedmetadata", () => {
    size.textContent = `${video.videoWidth} by ${video.videoHeight} px`;
  });
  return new Promise((resolve) => {
    const dialog = el("dialog", { class: "dw bench-camera", "aria-label": "Live camera" }, video, size,
      el("div", { class: "dw-row" },
        button("Take this picture", { class: "main big" }, async () => {
          const picture = video.videoWidth ? await grab(video) : null;
          if (picture) end(picture);
        }),
        button("Close", { class: "big" }, () => end(null))));
    function end(picture) {
      for (const track of stream.getTracks()) track.stop();
      dialog.remove();
      resolve(picture);
    }
    dialog.addEventListener("cancel", () => end(null));
    document.body.append(dialog);
    dialog.showModal();
  });
}
