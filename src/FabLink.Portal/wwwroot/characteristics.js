// The table of characteristics without a mouse: paste from a spreadsheet, Enter goes down, Ctrl+Enter saves.
// Without this file it is a plain form with spare rows.
(() => {
  const form = document.querySelector('[data-grid]');
  if (!form) return;
  const body = form.querySelector('tbody');
  const rows = () => [...body.querySelectorAll('tr:not(.why)')];
  const cells = row => [...row.querySelectorAll('input')];

  const addRow = () => {
    const all = rows();
    const fresh = all[all.length - 1].cloneNode(true);
    fresh.querySelectorAll('td').forEach(cell => cell.classList.remove('wrong'));
    cells(fresh).forEach(input => {
      input.value = '';
      input.name = input.name.replace(/\[\d+\]/, `[${all.length}]`);
      input.id = input.id.replace(/-\d+-/, `-${all.length}-`);
      input.setAttribute('aria-label', input.getAttribute('aria-label').replace(/\d+$/, all.length + 1));
      input.removeAttribute('aria-invalid');
      input.removeAttribute('aria-describedby');
    });
    body.append(fresh);
    return fresh;
  };

  const place = input => {
    const row = input.closest('tr');
    return { row: rows().indexOf(row), column: cells(row).indexOf(input) };
  };

  const at = (row, column) => cells(rows()[row] ?? addRow())[column];

  // Tabs between cells, line breaks between rows; a cell in quotes may hold both, quotes inside are doubled.
  const read = text => {
    const table = [[]];
    let cell = '', quoted = false;
    const end = () => { table[table.length - 1].push(cell.trim()); cell = ''; };
    for (let i = 0; i < text.length; i++) {
      const c = text[i];
      if (quoted) {
        if (c !== '"') cell += c;
        else if (text[i + 1] === '"') { cell += '"'; i++; }
        else quoted = false;
      } else if (c === '"' && cell === '' && text.indexOf('"', i + 1) > 0) quoted = true;
      else if (c === '\t') end();
      else if (c === '\n') { end(); table.push([]); }
      else if (c !== '\r') cell += c;
    }
    if (cell !== '' || table[table.length - 1].length > 0) end();
    return table.filter(row => row.length > 0);
  };

  // The words of headings and what they name, as for a file.
  const words = new Map(Object.entries(JSON.parse(form.dataset.headings)));
  const named = cell => {
    const text = cell.replace(/[([].*$/s, '');
    return words.get(text.replace(/[^\p{L}\p{N}]/gu, '').toLowerCase() || text.trim());
  };
  const headings = block => {
    for (const [index, row] of block.slice(0, 50).entries()) {
      const fields = new Map();
      row.map(named).forEach((field, column) => { if (field && !fields.has(field)) fields.set(field, column); });
      if (fields.has('Balloon') && ['Requirement', 'Nominal', 'Lower', 'Upper'].some(field => fields.has(field))) return { index, fields };
    }
    return null;
  };

  // A requirement that is spread over nominal, deviations and limits, as a drawing would write it.
  const spread = of => {
    const [nominal, plus, minus, tolerance, lower, upper] = ['Nominal', 'Plus', 'Minus', 'Tolerance', 'Lower', 'Upper'].map(of);
    const signed = (text, sign) => !text || Number(text.replace(',', '.')) === 0 ? '0' : /^[-+\u2212]/.test(text) ? text : sign + text;
    const size = plus || minus ? `${nominal} ${signed(plus, '+')}/${signed(minus, '-')}`
      : tolerance ? (/^[a-z]/i.test(tolerance) ? `${nominal} ${tolerance}` : `${nominal} \u00b1${tolerance.replace(/^[\u00b1+/ -]+/, '')}`)
        : lower && upper ? `${lower} to ${upper}` : upper ? `max ${upper}` : lower ? `min ${lower}` : nominal;
    const sign = { diameter: '\u00d8', radius: 'R' }[of('Kind').toLowerCase()];
    return sign && /^[\d.,]/.test(size) ? sign + size : size;
  };

  // Rows of a table with headings, each in the order of the columns here; what the table does not have stays as it is.
  const arranged = (block, { index, fields }) => {
    const columns = cells(rows()[0]).map(input => input.name.split('.').pop());
    return block.slice(index + 1).map(row => {
      const of = field => row[fields.get(field)] ?? '';
      return columns.map(column => column === 'Requirement' ? of(column) || spread(of) || undefined : fields.has(column) ? of(column) : undefined);
    });
  };

  form.addEventListener('paste', event => {
    const input = event.target.closest?.('tbody input');
    const text = event.clipboardData?.getData('text/plain') ?? '';
    if (!input || !/[\t\n]/.test(text.trimEnd())) return;
    event.preventDefault();
    const from = place(input);
    let block = read(text);
    const header = headings(block);
    const unread = header ? block[header.index].filter((cell, column) => cell && ![...header.fields.values()].includes(column)) : [];
    form.querySelector('[data-pasted]').textContent = unread.length === 0 ? '' : `Not read, for their headings say nothing here: ${unread.join(', ')}.`;
    if (header) {
      block = arranged(block, header);
      from.column = 0;
    }
    if (block.length === 0) return;
    block.forEach((row, down) => row.forEach((value, right) => {
      const target = at(from.row + down, from.column + right);
      if (target && value !== undefined) target.value = value;
    }));
    at(from.row + block.length - 1, from.column).focus();
  });

  form.addEventListener('keydown', event => {
    const input = event.target.closest?.('tbody input');
    if (!input || event.key !== 'Enter') return;
    event.preventDefault();
    if (event.ctrlKey || event.metaKey) { form.requestSubmit(form.querySelector('button:not([name])')); return; }
    const here = place(input);
    const target = event.shiftKey ? (here.row > 0 ? at(here.row - 1, here.column) : null) : at(here.row + 1, here.column);
    target?.focus();
    target?.select();
  });

  document.documentElement.classList.add('scripted');
})();
