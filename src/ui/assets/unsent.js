// What is typed at the bench survives a dead spot: values and the form's key stay on the device until the server has
// answered, and are offered to be sent again. Sent twice under one key, it is done once. Without this script the forms
// work as forms do.
const prefix = 'lotwright.unsent ';

for (const form of document.querySelectorAll('form[data-keeps]')) keep(form);

function keep(form) {
  const name = prefix + form.dataset.keeps;
  offer(form, name);
  // a scan takes the place of the lot that is there already
  form.elements.namedItem('lot')?.addEventListener('focus', (event) => event.target.select());
  form.addEventListener('input', () => save(form, name));
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    save(form, name);
    const button = form.querySelector('button[type=submit]');
    button.disabled = true;
    try {
      const body = new URLSearchParams(new FormData(form));
      const answer = await fetch(form.action, { method: 'POST', body, headers: { accept: 'text/html' } });
      const text = await answer.text();
      // gone only once an answer is here: it is done, or what is wrong is on the page that comes
      if (answer.status < 500) localStorage.removeItem(name);
      show(answer, text);
    } catch {
      button.disabled = false;
      say(form, 'Not sent: there is no connection just now. What you typed is kept on this device.', 'Send it again');
    }
  });
}

function save(form, name) {
  const values = [...new FormData(form)].filter(([, value]) => typeof value === 'string');
  try {
    localStorage.setItem(name, JSON.stringify(values));
  } catch {
    // a device that keeps nothing still sends
  }
}

/** Puts back what was typed and not sent, under the key it had. */
function offer(form, name) {
  const kept = localStorage.getItem(name);
  if (kept === null) return;
  const values = new Map(JSON.parse(kept));
  if (![...form.elements].some((field) => isTyped(field, values.get(field.name)))) return;
  for (const field of form.elements) {
    if (field.type === 'checkbox') field.checked = values.has(field.name);
    else if (values.has(field.name) && field.name !== 'position') field.value = values.get(field.name);
  }
  // a number alone was typed in the unit that stood beside it then
  for (const unit of form.querySelectorAll('[data-unit]'))
    unit.textContent = form.elements.namedItem(unit.dataset.unit).value;
  form.closest('details')?.setAttribute('open', '');
  say(form, 'This was typed here before and not sent.', 'Send it', () => localStorage.removeItem(name));
}

/** What the form holds by itself nobody typed. */
function isTyped(field, value) {
  if (field.type === 'hidden' || field.name === '') return false;
  if (field.type === 'checkbox') return (value !== undefined) !== field.defaultChecked;
  return (value ?? '') !== '' && value !== (field.defaultValue ?? field.value);
}

function say(form, words, button, drop) {
  form.querySelector('[data-unsent]')?.remove();
  const note = document.createElement('div');
  note.className = 'note care';
  note.dataset.unsent = '';
  note.setAttribute('role', 'alert');
  const text = document.createElement('p');
  text.textContent = words;
  const again = document.createElement('button');
  again.type = 'submit';
  again.textContent = button;
  note.append(text, again);
  if (drop) {
    const away = document.createElement('button');
    away.type = 'button';
    away.textContent = 'Throw it away';
    away.addEventListener('click', () => {
      drop();
      location.reload();
    });
    note.append(' ', away);
  }
  form.prepend(note);
}

/** Goes where the server sent us; a form that was refused comes back with its fault, at the same address. */
function show(answer, text) {
  if (answer.redirected) return location.assign(answer.url);
  const page = new DOMParser().parseFromString(text, 'text/html');
  document.querySelector('main').replaceWith(page.querySelector('main'));
  for (const form of document.querySelectorAll('form[data-keeps]')) keep(form);
  document.querySelector('[role=alert]')?.scrollIntoView({ block: 'center' });
  document.querySelector('[aria-invalid=true]')?.focus();
}
