// An answer that takes long says so, where the form was sent: nobody taps twice because nothing seems to happen.
const PATIENCE_MS = 400;
let waiting;

document.addEventListener('submit', (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== 'post') return;
  clearTimeout(waiting);
  waiting = setTimeout(() => show(form), PATIENCE_MS);
});

// the page may come back from memory when one goes back to it
addEventListener('pageshow', () => {
  clearTimeout(waiting);
  document.querySelector('.busy')?.remove();
});

function show(form) {
  document.querySelector('.busy')?.remove();
  const note = document.createElement('p');
  note.className = 'busy';
  note.setAttribute('role', 'status');
  const bar = document.createElement('progress');
  const words = form.dataset.busy ?? 'Working on it';
  bar.setAttribute('aria-label', words);
  note.append(bar, ` ${words}`);
  document.getElementById('content').prepend(note);
  note.scrollIntoView({ block: 'nearest' });
}
