/* global document */
// Tables in outputs read as on our pages, with words at the left: the editor would put everything at the right.
const style = document.createElement('style');
style.textContent = 'th, td { text-align: left } .number { text-align: right; font-variant-numeric: tabular-nums }';
document.head.append(style);
