// The line for previews: answers belong to questions in the order of asking, and none outlives its line.
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

/** @type {any[]} */
let lines = [];
class Line extends EventTarget {
  static OPEN = 1;
  constructor(address) {
    super();
    this.address = String(address);
    this.readyState = 0;
    this.sent = [];
    lines.push(this);
  }
  send(text) {
    this.sent.push(JSON.parse(text));
  }
  opens() {
    this.readyState = Line.OPEN;
    this.dispatchEvent(new Event("open"));
  }
  says(data) {
    this.dispatchEvent(new MessageEvent("message", { data: JSON.stringify(data) }));
  }
  close() {
    this.readyState = 3;
    this.dispatchEvent(new Event("close"));
  }
}
Object.assign(globalThis, { WebSocket: Line, location: { href: "http://plates.test/cases/a" }, addEventListener() {} });
const { Live } = await import("../../static/js/lib/live.js");
const wanted = () => true;
let live, line;

beforeEach(() => {
  lines = [];
  live = new Live("/api/v1/cases/a");
  live.open();
  [line] = lines;
  line.opens();
});

test("the line is the case's own, and there is one of it", () => {
  live.open();
  assert.equal(lines.length, 1);
  assert.equal(line.address, "ws://plates.test/api/v1/cases/a/live");
});

test("answers go to those who asked, in the order of asking", async () => {
  const first = live.preview({ n: 1 }, wanted);
  const second = live.preview({ n: 2 }, wanted);
  line.says({ seq: 1, drawing: "<svg>\none\n</svg>" });
  line.says({ seq: 2, drawing: "<svg>\ntwo\n</svg>" });
  assert.deepEqual(line.sent, [{ n: 1 }, { n: 2 }]);
  assert.equal((await first).redraw.seq, 1);
  assert.equal((await second).redraw.seq, 2);
});

test("a drawing told by its new lines is whole, and the one before it stays as it was", async () => {
  const first = live.preview({}, wanted);
  line.says({ drawing: "<svg>\none\n</svg>" });
  const before = (await first).redraw.drawing;
  const second = live.preview({}, wanted);
  line.says({ lines: { 1: "two" } });
  assert.deepEqual((await second).redraw.drawing, ["<svg>", "two", "</svg>"]);
  assert.deepEqual(before, ["<svg>", "one", "</svg>"]);
});

test("a refusal is no picture", async () => {
  const asked = live.preview({}, wanted);
  line.says({ error: "too long", status: 422 });
  const answer = await asked;
  assert.equal(answer.ok, false);
  assert.equal(answer.status, 422);
});

test("with the line lost, what nobody waits for any more is not asked again", async () => {
  const asked = live.preview({}, () => false);
  line.close();
  await assert.rejects(asked, /nobody waits/);
});
