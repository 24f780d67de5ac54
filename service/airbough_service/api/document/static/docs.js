"use strict";

function address(form) {
  let path = form.dataset.path;
  const query = new URLSearchParams();
  for (const input of form.querySelectorAll("input")) {
    if (input.dataset.in === "path") path = path.replace(`{${input.name}}`, encodeURIComponent(input.value));
    else if (input.value !== "") query.append(input.name, input.value);
  }
  return query.size ? `${path}?${query}` : path;
}

function shown(text, type) {
  if (!/json$/.test(type.split(";")[0])) return text;
  try {
    return JSON.stringify(JSON.parse(text), null, 1);
  } catch {
    return text;
  }
}

async function send(event) {
  event.preventDefault();
  const form = event.target;
  const answer = form.querySelector(".answer");
  const body = form.querySelector("textarea");
  const options = { method: form.dataset.method };
  if (body) Object.assign(options, { body: body.value, headers: { "Content-Type": body.dataset.type } });
  answer.hidden = false;
  answer.textContent = "…";
  try {
    const response = await fetch(address(form), options);
    const type = response.headers.get("Content-Type") || "";
    answer.textContent = `${response.status} ${type}\n${address(form)}\n\n${shown(await response.text(), type)}`;
  } catch (error) {
    answer.textContent = String(error);
  }
}

for (const form of document.querySelectorAll("form.try")) {
  form.addEventListener("submit", send);
  form.querySelector(".send").hidden = false;
}
