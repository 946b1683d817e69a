// Patching: the tree comes to look like the new one, and what belongs to the user (focus, half-typed text, open details) stays.
import assert from "node:assert/strict";
import { test } from "node:test";
import { open } from "./page.js";

open("");
const { patchHtml, patchSvg } = await import("../../static/js/lib/patch.js");

/** @param {string} html */
function host(html) {
  document.body.innerHTML = `<div id="host">${html}</div>`;
  return document.getElementById("host");
}

test("the tree comes to look like the new one, whatever it was", () => {
  const pieces = ["<p>a</p>", '<p id="b">b</p>', '<ul id="c"><li data-key="1">1</li><li data-key="2">2</li></ul>', "text", '<i class="x">i</i>'];
  let seed = 7;
  const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  const some = () => pieces.filter(() => random() < 0.6).sort(() => random() - 0.5).join("");
  for (let round = 0; round < 300; round++) {
    const [before, after] = [some(), some()];
    const place = host(before);
    patchHtml(place, after);
    const proper = host(after);
    assert.equal(place.innerHTML, proper.innerHTML, `${before} → ${after}`);
  }
});

test("nodes with a key stay the same nodes, in whatever order they come", () => {
  const place = host('<b id="one">1</b><b id="two">2</b><b id="three">3</b>');
  const nodes = [...place.children];
  patchHtml(place, '<b id="three">3!</b><b id="new">n</b><b id="one">1!</b>');
  assert.equal(place.textContent, "3!n1!");
  assert.equal(document.getElementById("one"), nodes[0]);
  assert.equal(document.getElementById("three"), nodes[2]);
  assert.equal(nodes[1].isConnected, false);
});

test("focus and half-typed text stay, and what was chosen but refused goes", () => {
  const place = host('<input id="field" value="1"><select id="list"><option value="a" selected>a</option><option value="b">b</option></select>');
  const field = /** @type {HTMLInputElement} */ (document.getElementById("field"));
  const list = /** @type {HTMLSelectElement} */ (document.getElementById("list"));
  field.focus();
  field.value = "12.";
  field.setAttribute("data-dirty", "");
  list.value = "b";
  patchHtml(place, '<input id="field" value="3"><select id="list"><option value="a" selected>a</option><option value="b">b</option></select>');
  assert.equal(document.activeElement, field);
  assert.equal(field.value, "12.");
  assert.equal(field.getAttribute("value"), "3");
  assert.equal(list.value, "a");
  field.blur();
  field.removeAttribute("data-dirty");
  patchHtml(place, '<input id="field" value="4">');
  assert.equal(field.value, "4");
});

test("open details stay open", () => {
  const place = host('<details id="why"><summary>Why</summary><p>a</p></details>');
  document.getElementById("why")?.setAttribute("open", "");
  patchHtml(place, '<details id="why"><summary>Why</summary><p>b</p></details>');
  assert.ok(document.getElementById("why")?.hasAttribute("open"));
  assert.equal(place.textContent, "Whyb");
});

const drawing = (/** @type {string} */ x, /** @type {string} */ hole) =>
  ['<svg id="sketch">', '<g id="bone">', `<path d="M0,0L${x},0"/>`, `<g id="hole-1" tabindex="0" class="${hole}"><circle r="1"/></g>`, "</g>", "</svg>"];

test("of a drawing only the lines that are new are changed, and the nodes stay", () => {
  const place = host(drawing("1", "empty").join("\n"));
  const svg = /** @type {Element} */ (place.firstElementChild);
  patchSvg(svg, drawing("1", "empty"));
  const hole = document.getElementById("hole-1");
  hole?.setAttribute("tabindex", "-1");
  patchSvg(svg, drawing("2", "empty"));
  assert.equal(svg.querySelector("path")?.getAttribute("d"), "M0,0L2,0");
  assert.equal(document.getElementById("hole-1"), hole);
  assert.equal(hole?.getAttribute("tabindex"), "-1", "a line that is not new is not touched");
  patchSvg(svg, drawing("2", "neutral"));
  assert.equal(document.getElementById("hole-1"), hole);
  assert.equal(hole?.getAttribute("class"), "neutral");
});

test("what a drag moved by itself is put right even where its line is not new", () => {
  const place = host(drawing("1", "empty").join("\n"));
  const svg = /** @type {Element} */ (place.firstElementChild);
  patchSvg(svg, drawing("1", "empty"));
  const path = svg.querySelector("path");
  path?.setAttribute("transform", "translate(3 0)");
  path?.setAttribute("data-moved", "");
  patchSvg(svg, drawing("1", "empty"));
  assert.equal(path?.hasAttribute("transform"), false);
});

test("a drawing of another shape is taken whole", () => {
  const place = host(drawing("1", "empty").join("\n"));
  const svg = /** @type {Element} */ (place.firstElementChild);
  patchSvg(svg, drawing("1", "empty"));
  patchSvg(svg, ['<svg id="sketch">', '<text id="t">none</text>', "</svg>"]);
  assert.equal(svg.querySelectorAll("path").length, 0);
  assert.equal(document.getElementById("t")?.textContent, "none");
});
