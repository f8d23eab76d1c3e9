// Shows the interface document that the program writes from its own code.

import { $, make } from "./parts.js";
import { fillWords, words } from "./words.js";

const shapeName = (ref) => ref.split("/").pop();

/** A schema in words; shapes become links. */
function type(schema) {
  if (!schema) {
    return ["any"];
  }
  if (schema.$ref) {
    const name = shapeName(schema.$ref);
    return [make("a", { href: `#shape-${name}` }, name)];
  }
  const choices = schema.oneOf ?? schema.anyOf ?? schema.allOf;
  if (choices) {
    return choices.flatMap((choice, i) => (i ? [" or ", ...type(choice)] : type(choice)));
  }
  if (schema.enum) {
    return [schema.enum.map((value) => JSON.stringify(value)).join(" or ")];
  }
  if (schema.type === "array" || schema.items) {
    return ["list of ", ...type(schema.items)];
  }
  if (schema.properties) {
    return [fields(schema)];
  }
  return [[schema.type].flat().join(" or ") + (schema.format ? ` (${schema.format})` : "") + range(schema)];
}

/** What a number may be, or how long a text. */
function range(schema) {
  const { minimum, maximum, maxLength } = schema;
  if (minimum !== undefined && maximum !== undefined) {
    return `, ${minimum} ${words.docs.to} ${maximum}`;
  }
  return maxLength === undefined ? "" : `, ${words.docs.atMost} ${maxLength}`;
}

function fields(schema) {
  const required = schema.required ?? [];
  return make("dl", { class: "fields" }, ...Object.entries(schema.properties).flatMap(([name, field]) => [
    make("dt", {}, make("code", {}, name)),
    make("dd", {}, ...type(field), required.includes(name) ? null : ` (${words.docs.optional})`,
      field.description ? `: ${field.description}` : null),
  ]));
}

function content(holder) {
  return Object.values(holder?.content ?? {}).flatMap((body) => type(body.schema));
}

function route(path, method, operation) {
  const answers = Object.entries(operation.responses ?? {});
  return make("section", { class: "route" },
    make("h3", {}, make("b", { class: "mark" }, method.toUpperCase()), make("code", {}, ` ${path}`)),
    make("p", {}, operation.summary ?? ""),
    operation.description ? make("p", {}, operation.description) : null,
    operation.parameters?.length
      ? make("p", {}, `${words.docs.parameters}: ${operation.parameters.map((p) => `${p.name} (${p.in}): ${p.description ?? ""}`).join("; ")}`)
      : null,
    operation.requestBody ? make("p", {}, `${words.docs.body}: `, ...content(operation.requestBody)) : null,
    make("p", {}, `${words.docs.answers}: `),
    make("ul", {}, ...answers.map(([status, answer]) => make("li", {}, `${status} ${answer.description ?? ""} `, ...content(answer)))));
}

async function show() {
  fillWords();
  document.title = words.title.docs;
  try {
    const api = await (await fetch("/v1/openapi.json")).json();
    $("about").textContent = api.info.description;
    const routes = Object.entries(api.paths).flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({ path, method, operation, tag: operation.tags?.[0] ?? "" })));
    for (const tag of new Set(routes.map((entry) => entry.tag))) {
      $("routes").append(make("h2", {}, tag),
        ...routes.filter((entry) => entry.tag === tag).map((entry) => route(entry.path, entry.method, entry.operation)));
    }
    $("routes").append(make("h2", {}, words.docs.shapes), ...Object.entries(api.components.schemas).map(([name, schema]) =>
      make("section", { class: "route", id: `shape-${name}` }, make("h3", {}, make("code", {}, name)),
        make("p", {}, schema.description ?? ""), make("div", {}, ...type(schema)))));
  } catch {
    $("routes").textContent = words.docs.problem;
  }
}

show();
