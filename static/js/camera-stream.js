// Getting a live picture from a camera, and saying in words why there is none.

const LARGEST = { width: { ideal: 8000 }, height: { ideal: 6000 } };

export class NoCamera extends Error {
  /** `what` is wrong, and the `way` to mend it. */
  constructor(what, way) { super(what); this.way = way; }
}

/** Say whether the browser gives cameras to this page at all; raise `NoCamera` where it doesn't. */
export function checkPlace() {
  if (window.isSecureContext && navigator.mediaDevices?.getUserMedia) return;
  if (!window.isSecureContext) {
    const port = location.port ? `:${location.port}` : "";
    throw new NoCamera(
      `Browsers give the camera only to pages of the same computer or over https, and this page was opened as ${location.protocol}//${location.host}.`,
      `On the computer that Layerwitness runs on, with the microscope plugged in there, open http://127.0.0.1${port}${location.pathname}. From another computer: put Layerwitness behind https, or choose pictures below.`,
    );
  }
  throw new NoCamera("This browser can't show a camera.", "Use another browser, or choose pictures below.");
}

/** Open the camera `device` ("" for whichever) at `size` (such as "1280x720"; "" for the largest it has). */
export async function openCamera(device, size) {
  checkPlace();
  const [width, height] = size.split("x").map(Number);
  const wanted = width && height ? { width: { ideal: width }, height: { ideal: height } } : LARGEST;
  const which = device ? { deviceId: { exact: device } } : { facingMode: { ideal: "environment" } };
  try {
    return await navigator.mediaDevices.getUserMedia({ audio: false, video: { ...wanted, ...which } });
  } catch (error) {
    throw inWords(error);
  }
}

function inWords(error) {
  const known = {
    NotAllowedError: ["The browser was told not to give this page the camera.", "Allow it at the sign beside the address, then try again."],
    NotFoundError: ["No camera is plugged in, or the system doesn't know it as one.", "Plug the microscope in and try again. Other programs of this computer have to list it as a camera too."],
    OverconstrainedError: ["The camera that was chosen is not there any more.", "Plug it in, or choose another one, and try again."],
    NotReadableError: ["The camera is there but gives no picture.", "Most often another program holds it: close that one and try again."],
    AbortError: ["The camera stopped before it gave a picture.", "Unplug it, plug it in and try again."],
  }[error.name] ?? [`The camera can't be opened (${error.name}).`, "Try again, or choose pictures below."];
  return new NoCamera(...known);
}

/** The cameras that can be chosen, as [id, name]; names come only once one was allowed. */
export async function cameras() {
  const all = await navigator.mediaDevices.enumerateDevices();
  return all.filter((one) => one.kind === "videoinput").map((one, at) => [one.deviceId, one.label || `Camera ${at + 1}`]);
}
