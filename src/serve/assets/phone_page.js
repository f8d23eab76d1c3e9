// The page about this phone: joining with a code and, for keepers, the phones that may touch.

import { read, remove, say } from "./link.js";
import { $, make, setText, twice } from "./parts.js";
import { page } from "./phone_page_words.js";
import { phoneWords } from "./phone_words.js";
import { words } from "./words.js";

const DIGITS = 8;

let code = "";
let joiningNow = false;
/** The field for a name. @type {HTMLInputElement} */
let field = null;

const button = (text, attributes, act) => make("button", { class: "deck", type: "button", ...attributes, on: act }, text);
const told = (text) => setText($("said"), text);

function showCode() {
  const padded = code.padEnd(DIGITS, "\u00b7");
  setText($("code"), `${padded.slice(0, 4)} ${padded.slice(4)}`);
  const needs = page.needs(DIGITS - code.length, !field.value.trim());
  const join = /** @type {HTMLButtonElement} */ ($("join"));
  join.disabled = Boolean(needs) || joiningNow;
  setText(join, joiningNow ? page.joining : page.join);
  setText($("needs"), needs ? page.still(needs) : "");
  for (const one of document.querySelectorAll("[data-name]")) {
    one.setAttribute("aria-pressed", String(one.textContent === field.value));
  }
}

function type(digit) {
  code = (code + digit).slice(0, DIGITS);
  told("");
  showCode();
}

function erase() {
  code = code.slice(0, -1);
  showCode();
}

async function join() {
  joiningNow = true;
  told("");
  showCode();
  const answer = await say("/v1/phone/join", { code, name: field.value.trim() });
  joiningNow = false;
  if (answer.problem) {
    const { detail, cure, type: kind } = answer.problem;
    if (kind?.endsWith(":wrong-code")) {
      code = "";
    }
    showCode();
    told(page.refused(detail, cure));
    return;
  }
  code = "";
  await load();
  told(answer.kept === "disk" ? "" : page.notKept);
}

function buildJoining() {
  field = /** @type {HTMLInputElement} */ (make("input", { id: "name", type: "text", maxlength: 24, autocomplete: "off" }));
  field.addEventListener("input", showCode);
  const names = page.names.map((name) => button(name, { "data-name": name }, () => {
    field.value = name;
    showCode();
  }));
  const keys = [1, 2, 3, 4, 5, 6, 7, 8, 9].map((digit) => button(String(digit), { "data-digit": digit }, () => type(digit)));
  $("joining").append(
    make("p", {}, page.codeFrom),
    make("div", { class: "joining" },
      make("div", {},
        make("p", { class: "code", id: "code", role: "status", "aria-label": page.codeLabel }),
        make("div", { class: "keypad" }, ...keys,
          make("span", {}),
          button("0", { "data-digit": 0 }, () => type(0)),
          button(page.erase, { "data-erase": true }, erase))),
      make("div", {},
        make("h2", {}, page.nameTitle),
        make("div", { class: "row" }, ...names),
        make("label", { class: "named" }, make("span", {}, page.nameLabel), field),
        button(page.join, { id: "join", class: "deck strong" }, join),
        make("p", { id: "needs", class: "hint" }))));
  document.addEventListener("keydown", (event) => {
    if ($("joining").hidden || event.target === field) {
      return;
    }
    if (/^[0-9]$/.test(event.key)) {
      type(event.key);
    } else if (event.key === "Backspace") {
      erase();
    }
  });
}

let ticking = 0;

function showInvited({ code: digits, role, good_for_s }) {
  clearInterval(ticking);
  const until = performance.now() + 1000 * good_for_s;
  const left = make("p", {});
  const show = () => {
    const s = Math.max(0, Math.round((until - performance.now()) / 1000));
    setText(left, page.left(s ? words.age(s) : ""));
  };
  $("invited").replaceChildren(make("p", {}, page.code(role)),
    make("p", { class: "code", "data-code": digits }, `${digits.slice(0, 4)} ${digits.slice(4)}`), left);
  show();
  ticking = setInterval(show, 1000);
}

async function invite(role) {
  told("");
  const answer = await say("/v1/phones/invite", { role });
  if (answer.problem) {
    told(page.failed(answer.problem.detail, answer.problem.cure));
  } else {
    showInvited(answer);
  }
}

async function takeOut({ number, name, is_this }) {
  const answer = await remove(`/v1/phones/${number}`);
  if (answer.problem) {
    told(page.failed(answer.problem.detail, answer.problem.cure));
    return;
  }
  await (is_this ? load() : listPhones());
  told((answer.kept === "disk" ? page.isOut : page.outNotKept)(name));
}

async function listPhones() {
  const phones = await read("/v1/phones");
  if (phones.problem) {
    told(page.failed(phones.problem.detail, phones.problem.cure));
    return;
  }
  $("phones").replaceChildren(...phones.map((phone) => make("div", { class: "one" },
    make("p", {}, make("b", {}, phone.name),
      make("small", {}, [phoneWords.roles[phone.role], phone.is_this ? page.isThis : "",
        page.since(new Date(phone.joined_at).toLocaleDateString())].filter(Boolean).join(", "))),
    twice(page.takeOut, page.again, { "data-out": phone.number }, () => takeOut(phone)))));
}

function buildKeeping() {
  $("keeping").append(
    make("h2", {}, page.invite), make("p", {}, page.inviteExplain),
    make("div", { class: "row" }, ...["crew", "keeper"].map((role) => button(page.as[role], { "data-invite": role }, () => invite(role)))),
    make("div", { id: "invited", role: "status" }),
    make("h2", {}, page.phones), make("div", { id: "phones" }));
}

function showEncryption({ locked, encrypted, certificate }) {
  const isHere = ["localhost", "127.0.0.1", "[::1]"].includes(location.hostname);
  const risk = locked && !isHere ? page.notEncrypted : "";
  setText($("encryption"), encrypted ? page.encrypted : risk);
  $("trusting").hidden = !certificate;
  if (certificate) {
    $("trusting").replaceChildren(make("h2", {}, page.trust), make("p", {}, page.trustExplain),
      make("p", { class: "fingerprint" }, page.fingerprint(certificate.sha256.match(/.{1,23}(:|$)/g))),
      make("a", { class: "deck", href: certificate.path }, page.getCertificate));
  }
}

function show(now) {
  const state = !now.locked ? page.open
    : now.role ? page.joined(now.name, now.role)
      : now.was_taken_out ? page.out : now.may_look ? page.look : page.closed;
  setText(document.querySelector("#now .now"), state);
  setText(document.querySelector("#now .about"), now.role ? page[now.role] : "");
  showEncryption(now);
  $("joining").hidden = !now.locked || now.may_touch;
  $("keeping").hidden = !now.locked || !now.may_keep;
  if (!$("keeping").hidden) {
    return listPhones();
  }
}

async function load() {
  const now = await read("/v1/phone");
  if (now.problem) {
    told(page.failed(now.problem.detail, now.problem.cure));
    setTimeout(load, 3000);
    return;
  }
  told("");
  await show(now);
}

document.title = phoneWords.title;
setText($("heading"), page.heading);
setText(document.querySelector("#now .now"), page.loading);
setText($("back"), page.back);
buildJoining();
buildKeeping();
showCode();
load();
