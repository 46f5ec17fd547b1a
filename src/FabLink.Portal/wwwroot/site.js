// Every page works without this file; it only saves a tap.
(() => {
  const start = root => {
    root.querySelector?.('.errors')?.focus();
  };
  document.addEventListener('DOMContentLoaded', () => start(document));
  // On a phone the pages stand in one row that moves: the one that is open comes into it.
  document.addEventListener('DOMContentLoaded', () => {
    const [row, here] = [document.querySelector('.nav nav'), document.querySelector('.nav [aria-current]')];
    if (here) row.scrollLeft = here.offsetLeft - row.offsetLeft - 16;
  });
  document.addEventListener('htmx:afterSwap', event => start(event.target));
  // A filter that changes sends itself.
  document.addEventListener('change', event => {
    if (event.target.matches?.('[data-at-once], form[data-at-once] *')) event.target.form?.requestSubmit();
  });
  // Sending twice takes two taps: the button that was used rests until the page is gone.
  document.addEventListener('submit', event => {
    if (event.target.method === 'post') {
      for (const button of event.target.querySelectorAll('button')) {
        setTimeout(() => { button.disabled = true; });
        setTimeout(() => { button.disabled = false; }, 5000);
      }
    }
  });
  // Half-typed work is kept when the page is left in the middle of a field; who submits needs no draft any more.
  document.addEventListener('input', event => { if (event.target.form?.matches('[data-keep]')) event.target.form.dataset.keep = 'typed'; });
  document.addEventListener('submit', event => { if (event.target.matches('[data-keep]')) event.target.dataset.keep = ''; });
  const keep = () => {
    for (const form of document.querySelectorAll('form[data-keep=typed]')) {
      form.dataset.keep = '';
      const values = new URLSearchParams(new FormData(form));
      values.set('todo', 'keep');
      fetch(form.action, { method: 'post', body: values, keepalive: true, headers: { 'HX-Request': 'true' } });
    }
  };
  window.addEventListener('pagehide', keep);
  document.addEventListener('visibilitychange', () => { if (document.visibilityState === 'hidden') keep(); });
  window.addEventListener('pageshow', event => {
    if (event.persisted) for (const button of document.querySelectorAll('button[disabled]')) button.disabled = false;
  });
  document.addEventListener('click', event => {
    if (event.target.closest?.('[data-print]')) window.print();
  });
})();
