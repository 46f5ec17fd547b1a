// Every page works without this file; it only saves a tap.
(() => {
  const start = root => {
    root.querySelector?.('.errors')?.focus();
  };
  document.addEventListener('DOMContentLoaded', () => start(document));
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
  window.addEventListener('pageshow', event => {
    if (event.persisted) for (const button of document.querySelectorAll('button[disabled]')) button.disabled = false;
  });
  document.addEventListener('click', event => {
    if (event.target.closest?.('[data-print]')) window.print();
  });
})();
