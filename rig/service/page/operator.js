// What the operator has to do next, in large type, and the three ways to answer.
import { act, may_act } from "/page/acting.js";
import { fill, h, say, show } from "/page/dom.js";
import { letters_on, taken_by_control } from "/page/keys.js";

const answers = [
  { answer: "done", word: "Done", key: "Enter", shown: "Enter" },
  { answer: "skip", word: "Skip", key: "s", shown: "S" },
  { answer: "end", word: "End the run", key: "a", shown: "A" },
];

function cautions_of(question) {
  const list = question.cautions ?? [];
  return list.map((c) => h("li", {}, c));
}

/** The panel; `update(question or null)` and `press(event)` keep it going. */
export function operator_panel() {
  const step = h("p", { class: "step" }), instruction = h("p", { class: "instruction" });
  const cautions = h("ul", { class: "cautions" }), sent = h("p", { class: "sent", role: "status" });
  const buttons = answers.map((a) => h("button", { type: "button", class: `answer ${a.answer}`, "aria-keyshortcuts": a.key,
                                                   on: { click: () => send(a) } }, a.word, h("kbd", {}, a.shown)));
  const node = h("section", { class: "operator", "aria-label": "Your next action", hidden: true },
                 step, instruction, cautions, h("div", { class: "answers" }, buttons), sent);
  let question = null, answered = null;

  function draw() {
    show(node, question !== null);
    const waits = question !== null && answered !== question.number;
    for (const b of buttons) b.disabled = !waits || !may_act();
    say(sent, question === null || !waits ? (question ? "Answered. The rig goes on." : "")
              : may_act() ? "" : "This page is read-only: to answer, open the address that cvrig status prints.");
  }

  async function send(a) {
    if (question === null || answered === question.number || !may_act()) return;
    const { number } = question;
    answered = number;
    draw();
    if (!(await act("/api/answer", { number, answer: a.answer })) && answered === number) { answered = null; draw(); }
  }

  function update(asked) {
    const next = asked ?? null;
    if (next === null || question === null || next.number !== question.number || next.instruction !== question.instruction) {
      if (next === null || next.number !== question?.number) answered = null;
      if (next) {
        say(step, `Action ${next.number} of ${next.of}`);
        say(instruction, next.instruction);
        fill(cautions, cautions_of(next));
      }
      question = next;
    }
    draw();
  }

  function press(event) {
    if (question === null || event.repeat || taken_by_control(event)) return;
    const a = answers.find((x) => x.key === event.key || x.key === event.key.toLowerCase());
    if (!a || (a.key.length === 1 && !letters_on())) return;
    event.preventDefault();
    send(a);
  }

  return { node, update, press };
}
