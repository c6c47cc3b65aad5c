// The socket: every message has a number, moves never queue up, and a lost line is taken up again.

const RETRY_MS = 1500;

export class Link {
  constructor(hear) {
    this.hear = hear;
    this.seq = 0;
    this.waiting = new Map();
    this.next = null;
    this.flying = false;
    this.revision = 0;
    this.tail = Promise.resolve();
    this.open();
  }

  open() {
    const address = new URL("talk", location.href.replace(/^http/, "ws"));
    this.socket = new WebSocket(address);
    this.socket.onmessage = (event) => this.take(JSON.parse(event.data));
    this.socket.onopen = () => this.hear({ t: "line", up: true });
    this.socket.onclose = () => {
      for (const answer of this.waiting.values()) answer({ t: "refused", why: "the line to the desk is down" });
      this.waiting.clear();
      this.flying = false;
      this.next = null;
      this.hear({ t: "line", up: false });
      setTimeout(() => this.open(), RETRY_MS);
    };
  }

  take(message) {
    if (message.t === "state") this.revision = message.revision;
    this.hear(message);
    const answer = this.waiting.get(message.ack);
    if (answer) {
      this.waiting.delete(message.ack);
      answer(message);
    }
  }

  /** Send an operation when those before it are answered, on the revision there is then; the promise holds its answer. */
  ask(op, what = {}) {
    const answer = this.tail.then(() => this.send(op, what));
    this.tail = answer;
    return answer;
  }

  send(op, what) {
    return new Promise((answer) => {
      if (this.socket.readyState !== WebSocket.OPEN) {
        const refused = { t: "refused", why: "the line to the desk is down; nothing was changed" };
        this.hear(refused);
        answer(refused);
        return;
      }
      this.seq += 1;
      this.waiting.set(this.seq, answer);
      this.socket.send(JSON.stringify({ op, seq: this.seq, base: this.revision, ...what }));
    });
  }

  /** Something that only its newest value counts of: one in flight, the newest next. */
  async newest(op, what) {
    this.next = { op, what, since: performance.now() };
    if (this.flying) return;
    this.flying = true;
    while (this.next) {
      const { op, what, since } = this.next;
      this.next = null;
      const answer = await this.ask(op, what);
      document.dispatchEvent(new CustomEvent("numbers", { detail: { seq: answer.ack, since } }));
    }
    this.flying = false;
    if (this.landed) this.landed();
  }

  /** When the last of them is answered. */
  settled() {
    if (!this.flying) return Promise.resolve();
    return new Promise((done) => {
      this.landed = () => {
        this.landed = null;
        done();
      };
    });
  }
}
