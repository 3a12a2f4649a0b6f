// Dragging a pour to another day asks what that would do, as the page its link leads to does. Without a pointer, or
// without this script, the link is there.
let dragged = null;
for (const row of document.querySelectorAll('tr[data-movable]')) {
  row.draggable = true;
  row.addEventListener('dragstart', (event) => {
    dragged = row;
    event.dataTransfer.setData('text/plain', row.dataset.movable);
    event.dataTransfer.effectAllowed = 'move';
  });
  row.addEventListener('dragend', () => (dragged = null));
}
for (const day of document.querySelectorAll('[data-day]')) {
  day.addEventListener('dragover', (event) => {
    if (!dragged || day.contains(dragged)) return;
    event.preventDefault();
    event.dataTransfer.dropEffect = 'move';
    day.classList.add('landing');
  });
  day.addEventListener('dragleave', () => day.classList.remove('landing'));
  day.addEventListener('drop', (event) => {
    day.classList.remove('landing');
    const link = dragged?.querySelector('[data-move]');
    if (!link) return;
    event.preventDefault();
    askToMove(`${link.href}-preview`, day.dataset.day);
  });
}

function askToMove(action, day) {
  const form = Object.assign(document.createElement('form'), { method: 'post', action, hidden: true });
  form.append(Object.assign(document.createElement('input'), { type: 'hidden', name: 'day', value: day }));
  document.body.append(form);
  form.requestSubmit();
}
