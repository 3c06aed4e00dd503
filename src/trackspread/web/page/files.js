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
export async function send(list, limits, tell) {
  const refused = [];
  const queue = list.filter(({ file, name }) => {
    if (file.size <= limits.file_bytes) return true;
    refused.push(`${name}: larger than ${Math.round(limits.file_bytes / 1e6)} MB, the most for one file`);
    return false;
  });
  let sent = 0;
  async function work() {
    for (let next = queue.shift(); next; next = queue.shift()) {
      tell(++sent, list.length);
      try {
        const answer = await fetch(`/files?name=${encodeURIComponent(next.name)}`, { method: "PUT", body: next.file });
        if (!answer.ok) refused.push((await answer.json()).error);
      } catch {
        refused.push(`${next.name}: could not be read or sent`);
      }
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  return refused;
}
