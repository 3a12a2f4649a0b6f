// A list of codes too long to be sent whole is asked for again by what is typed: by a part of the code or the name.
for (const list of document.querySelectorAll('datalist[data-kinds]')) {
  let waiting;
  document.addEventListener('input', (event) => {
    if (!(event.target instanceof HTMLInputElement) || event.target.list !== list) return;
    const { value } = event.target;
    clearTimeout(waiting);
    if (value.trim() === '') return;
    waiting = setTimeout(async () => {
      const kinds = list.dataset.kinds === '' ? [''] : list.dataset.kinds.split(' ');
      const found = await Promise.all(kinds.map((kind) => ask(value.trim(), kind)));
      // the newest question is the one that is answered
      if (event.target.value === value) list.replaceChildren(...found.flat().map(optionOf));
    }, 200);
  });
}

async function ask(search, kind) {
  const asked = new URLSearchParams({ search, limit: '50', ...(kind && { kind }) });
  const answer = await fetch(`/api/items?${asked}`, { headers: { accept: 'application/json' } });
  return answer.ok ? (await answer.json()).items : [];
}

function optionOf({ code, name }) {
  const option = document.createElement('option');
  option.value = code;
  option.textContent = name;
  return option;
}
