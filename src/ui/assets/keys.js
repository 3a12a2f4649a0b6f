// The slash goes to the search box, unless something is being typed.
document.addEventListener('keydown', (event) => {
  if (event.key !== '/' || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target instanceof HTMLElement && event.target.closest('input, textarea, select, [contenteditable]')) return;
  const search = document.querySelector('input[type=search]');
  if (!search) return;
  event.preventDefault();
  search.focus();
});
