// From what was dropped or chosen to files on the server: walks folders, holds the limits, sends.

const JUNK = /(^|\/)(\.|Thumbs\.db$|desktop\.ini$|__MACOSX\/)/i;
const AT_ONCE = 4;

// Files of a drop with their paths. Entries must be taken before the event ends, hence no await before that.
export async function dropped(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.length) return chosen(transfer.files);
  const found = [];
  for (const entry of entries) await walk(entry, found);
  return found.filter(({ name }) => !JUNK.test(name));
}

export function chosen(list) {
  return [...list]
    .map((file) => ({ file, name: file.webkitRelativePath || file.name }))
    .filter(({ name }) => !JUNK.test(name));
}

async function walk(entry, found) {
  const name = entry.fullPath.replace(/^\//, "");
  if (entry.isFile) {
    found.push({ file: await new Promise((good, bad) => entry.file(good, bad)), name });
    return;
  }
  const reader = entry.createReader();
  for (;;) {
    const some = await new Promise((good, bad) => reader.readEntries(good, bad));
    if (!some.length) return;
    for (const inner of some) await walk(inner, found);
  }
}

// Sends all, a few at a time; what is refused costs itself only. Returns the reasons, one line each.
// The server holds the limits too, but whom it cuts off in mid-file does not hear why.
export async function send(list, { limits, files, bytes }, tell) {
  const refused = [];
  const megabytes = (size) => `${Math.round(size / 1e6).toLocaleString("en")} MB`;
  const queue = list.filter(({ file, name }) => {
    if (file.size > limits.file_bytes) {
      refused.push(`${name}: larger than ${megabytes(limits.file_bytes)}, the most for one file`);
    } else if (files >= limits.files) {
      refused.push(`${name}: a session takes ${limits.files.toLocaleString("en")} files; this one is left out`);
    } else if (bytes + file.size > limits.total_bytes) {
      refused.push(`${name}: a session takes ${megabytes(limits.total_bytes)} together; this one is left out`);
    } else {
      files += 1;
      bytes += file.size;
      return true;
    }
    return false;
  });
  const all = queue.length;
  let sent = 0;
  async function work() {
    for (let next = queue.shift(); next; next = queue.shift()) {
      tell(++sent, all);
      try {
        const answer = await fetch(`./files?name=${encodeURIComponent(next.name)}`, { method: "PUT", body: next.file });
        if (!answer.ok) refused.push((await answer.json()).error);
      } catch {
        refused.push(`${next.name}: could not be read or sent`);
      }
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  return refused;
}
