// Whether this page was opened from the home screen, and whether that matters here: on an iPad or iPhone a browser's tab may be emptied after seven days without a visit, and keeps its work apart from the home screen's.
const isApple = /iPad|iPhone/.test(navigator.userAgent) || (/Macintosh/.test(navigator.userAgent) && navigator.maxTouchPoints > 1); // how an iPad calls itself
const LOOPBACK = ["localhost", "127.0.0.1", "[::1]"];

export const isAppleDevice = () => isApple;

export function isFromHome() {
  return navigator.standalone === true || matchMedia("(display-mode: standalone)").matches || matchMedia("(display-mode: fullscreen)").matches;
}

/** A tab on an iPad or iPhone. */
export function isAppleTab() {
  return isApple && !isFromHome();
}

export const isLoopback = () => LOOPBACK.includes(location.hostname);
