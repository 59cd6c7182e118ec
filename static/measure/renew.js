// What is drawn again is changed in its place: a button is never taken away from under a finger, nor its focus.

function become(old, fresh) {
  if (old.nodeType === Node.TEXT_NODE) {
    if (old.data !== fresh.data) old.data = fresh.data;
    return;
  }
  for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name)) old.removeAttribute(name);
  for (const { name, value } of fresh.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  old.onclick = fresh.onclick;
  renew(old, ...fresh.childNodes);
}

/** Make what stands in a place like these fresh nodes. Of what they listen to, only `onclick` is taken over. */
export function renew(place, ...fresh) {
  fresh.forEach((node, i) => {
    const old = place.childNodes[i];
    if (!old) place.append(node);
    else if (old.nodeName === node.nodeName) become(old, node);
    else old.replaceWith(node);
  });
  while (place.childNodes.length > fresh.length) place.lastChild.remove();
}
