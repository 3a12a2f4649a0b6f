// Dragging a pour to another day does what its own form does: it asks what that would do. Without a pointer, or without
// this script, the form is there.
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
    const form = dragged?.querySelector('form');
    if (!form) return;
    event.preventDefault();
    form.elements.day.value = day.dataset.day;
    form.requestSubmit();
  });
}
