// A picture of the page as a file: what is drawn and what is written there, as it looks.
"use strict";

const picture = (() => {
  const SHARP = 2;
  const LOOK = [
    "fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray", "stroke-linecap", "stroke-linejoin",
    "stroke-opacity", "opacity", "visibility", "font-family", "font-size", "font-weight", "text-anchor",
    "paint-order",
  ];
  const ground = () => getComputedStyle(document.documentElement).getPropertyValue("--ground").trim();
  const encoded = (svg) => new Blob([new XMLSerializer().serializeToString(svg)], { type: "image/svg+xml" });

  // A drawing by itself, without the style sheet.
  const alone = (svg) => {
    const copy = svg.cloneNode(true);
    const copies = [copy, ...copy.querySelectorAll("*")];
    [svg, ...svg.querySelectorAll("*")].forEach((one, i) => {
      const look = getComputedStyle(one);
      if (look.display === "none") return copies[i].remove();
      for (const name of LOOK) copies[i].setAttribute(name, look.getPropertyValue(name));
      for (const name of ["class", "style"]) copies[i].removeAttribute(name);
    });
    const { width, height } = svg.getBoundingClientRect();
    copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
    copy.setAttribute("width", width);
    copy.setAttribute("height", height);
    return copy;
  };

  const vector = (svg) => {
    const copy = alone(svg);
    const [x, y] = (copy.getAttribute("viewBox") ?? "0 0").split(/[ ,]+/);
    const back = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    const looks = { x, y, width: "100%", height: "100%", fill: ground() };
    for (const [name, value] of Object.entries(looks)) back.setAttribute(name, value);
    copy.prepend(back);
    return encoded(copy);
  };

  const opened = async (svg) => {
    const image = new Image();
    image.src = URL.createObjectURL(encoded(alone(svg)));
    await image.decode();
    URL.revokeObjectURL(image.src);
    return image;
  };

  // Whether a box can be seen below a root: whatever would scroll or cut it has it whole.
  const seen = (box, element, root) => {
    for (let at = element; at && at !== root.parentElement; at = at.parentElement) {
      const look = getComputedStyle(at);
      if (look.visibility === "hidden" || look.opacity === "0") return false;
      const around = at.getBoundingClientRect();
      const across = box.left < around.left - 1 || box.right > around.right + 1;
      const down = box.top < around.top - 1 || box.bottom > around.bottom + 1;
      if (look.overflowX !== "visible" && (across || down)) return false;
    }
    return true;
  };

  const ink = (to, element) => {
    const look = getComputedStyle(element);
    to.font = `${look.fontWeight} ${look.fontSize} ${look.fontFamily}`;
    to.fillStyle = look.color;
    return look;
  };

  // What is chosen, where it stands.
  const choice = (to, select, origin) => {
    const { paddingLeft } = ink(to, select);
    const box = select.getBoundingClientRect();
    to.textBaseline = "middle";
    const left = box.left - origin.left + parseFloat(paddingLeft);
    to.fillText(select.selectedOptions[0]?.text ?? "", left, box.top - origin.top + box.height / 2);
    to.textBaseline = "alphabetic";
  };

  const write = (to, node, origin, root) => {
    const element = node.parentElement;
    if (element.closest("svg, select, details:not([open])")) return;
    ink(to, element);
    for (const { index, 0: word } of node.data.matchAll(/\S+/g)) {
      const range = document.createRange();
      range.setStart(node, index);
      range.setEnd(node, index + word.length);
      const box = range.getBoundingClientRect();
      if (!box.width || !seen(box, element, root)) continue;
      const { fontBoundingBoxAscent: up, fontBoundingBoxDescent: down } = to.measureText(word);
      to.fillText(word, box.left - origin.left, box.top - origin.top + (box.height - up - down) / 2 + up);
    }
  };

  // A line that is one edge of a box: its top, or its left.
  const rule = (to, element, edge, origin) => {
    const look = getComputedStyle(element);
    const box = element.getBoundingClientRect();
    const [left, top] = [box.left - origin.left, box.top - origin.top];
    to.strokeStyle = look[`border${edge}Color`];
    to.lineWidth = parseFloat(look[`border${edge}Width`]);
    to.setLineDash({ dashed: [6, 4], dotted: [1, 2] }[look[`border${edge}Style`]] ?? []);
    to.beginPath();
    to.moveTo(left, top);
    to.lineTo(edge === "Top" ? left + box.width : left, edge === "Top" ? top : top + box.height);
    to.stroke();
  };

  const pixels = async (root) => {
    const origin = root.getBoundingClientRect();
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [origin.width * SHARP, origin.height * SHARP].map(Math.ceil);
    const to = canvas.getContext("2d");
    to.scale(SHARP, SHARP);
    to.fillStyle = ground();
    to.fillRect(0, 0, origin.width, origin.height);
    for (const drawn of root.querySelectorAll("canvas, svg")) {
      const box = drawn.getBoundingClientRect();
      if (!box.width || !box.height) continue;
      const image = drawn instanceof HTMLCanvasElement ? drawn : await opened(drawn);
      to.drawImage(image, box.left - origin.left, box.top - origin.top, box.width, box.height);
    }
    for (const swatch of root.querySelectorAll(".swatch")) rule(to, swatch, "Top", origin);
    for (const line of root.querySelectorAll("div.cursor:not([hidden]), i.section-edge:not([hidden])")) rule(to, line, "Left", origin);
    for (const select of root.querySelectorAll("select")) choice(to, select, origin);
    const texts = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) write(to, texts.currentNode, origin, root);
    return new Promise((done) => canvas.toBlob(done, "image/png"));
  };

  return {
    // The picture that a control stands beside, as a file of a kind: "svg" or "png".
    of(control, kind) {
      const root = control.closest(".pictured").querySelector("[data-picture]");
      return kind === "svg" ? Promise.resolve(vector(root.querySelector("svg"))) : pixels(root);
    },
  };
})();
