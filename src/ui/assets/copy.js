// Buttons that copy the text of a field or print the page: shown only where this runs, since without it they do nothing.
for (const button of document.querySelectorAll('[data-copies]')) {
  button.hidden = false;
  const words = button.textContent;
  button.addEventListener('click', async () => {
    const field = document.getElementById(button.dataset.copies);
    field.select();
    try {
      await navigator.clipboard.writeText(field.value);
      button.textContent = 'Copied';
    } catch {
      // served without TLS, only the selected text can be copied, by hand
      button.textContent = 'Selected: copy it with the keyboard';
    }
    setTimeout(() => (button.textContent = words), 2500);
  });
}
for (const button of document.querySelectorAll('[data-prints]')) {
  button.hidden = false;
  button.addEventListener('click', () => globalThis.print());
}
