// The newest wins: one question at a time, what comes meanwhile waits, what is passed over is never asked, only the end is written.
import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { open } from "./page.js";

open("");
const { Gesture } = await import("../../static/js/sketch/gesture.js");

const EDIT = '{"op":"move_fracture","target":0}';
const HANDLE = `<svg><g id="grip" data-edit='${EDIT}' data-field="position_mm" data-value="100" data-min="50" data-max="200" data-step="0.5"></g></svg>`;
/** @type {any} */
let page;
/** @type {any[]} */
let asked;
/** @type {any[]} */
let written;
/** @type {any[]} */
let shown;
/** @type {any} */
let gesture;

beforeEach(() => {
  open(`<div id="board">${HANDLE}</div><div id="panel-readings"></div><div id="panel-summary"></div><div id="panel-warnings"></div><div id="panel-mechanics"></div>`);
  globalThis.fetch = async () => new Response("{}");
  asked = [];
  written = [];
  shown = [];
  const board = document.getElementById("board");
  page = {
    path: "/api/v1/cases/a", version: 3, construct: 0, sequence: 0, view: null, board, svg: board?.querySelector("svg"),
    livePanels: ["summary"], onSight: null,
    trial: () => ({ construct: 0, view: null, seq: (page.sequence += 1), loading: [] }),
    show: (/** @type {any} */ redraw) => shown.push(redraw),
    say() {},
    live: {
      open() {},
      preview: (/** @type {any} */ body) => new Promise((answer) => asked.push({ value: body.edit.position_mm, answer })),
    },
  };
  const commits = { idle: true, edit: (/** @type {any} */ edit) => written.push(edit) };
  gesture = new Gesture(page, commits, document.getElementById("grip"));
});

afterEach(() => gesture.cancel());

const turn = () => new Promise((resolve) => setTimeout(resolve, 1));
const redraw = (/** @type {number} */ seq) => ({ ok: true, redraw: { seq } });

test("one question at a time, and the next is the newest", async () => {
  for (const value of [101, 102, 103, 104]) gesture.aim(value);
  assert.deepEqual(asked.map((one) => one.value), [101]);
  asked[0].answer(redraw(1));
  await turn();
  assert.deepEqual(asked.map((one) => one.value), [101, 104]);
  asked[1].answer(redraw(2));
  await turn();
  assert.equal(asked.length, 2, "the newest has been asked; there is nothing left to ask");
  assert.equal(gesture.drawn, 104);
  assert.deepEqual(shown.map((one) => one.seq), [1, 2]);
});

test("a value is kept within its range and on its step", () => {
  gesture.aim(1000);
  assert.equal(gesture.value, 200);
  gesture.aim(-5);
  assert.equal(gesture.value, 50);
  gesture.aim(100.26);
  assert.equal(gesture.value, 100.5);
});

test("the end is written once, and an answer that comes after it is not shown", async () => {
  gesture.aim(120);
  gesture.finish();
  gesture.finish();
  asked[0].answer(redraw(1));
  await turn();
  assert.deepEqual(written, [{ op: "move_fracture", target: 0, position_mm: 120 }]);
  assert.deepEqual(shown, []);
});

test("given up, nothing is written and the picture is the one from before", async () => {
  gesture.aim(120);
  gesture.cancel();
  asked[0].answer(redraw(9));
  await turn();
  assert.deepEqual(written, []);
  assert.equal(shown.length, 1);
  assert.match(shown[0].drawing, /^<svg/);
});

test("a drag there and back writes nothing", () => {
  gesture.aim(120);
  gesture.aim(100);
  gesture.finish();
  assert.deepEqual(written, []);
});
