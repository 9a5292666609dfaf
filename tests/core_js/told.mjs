const snake = (name) => name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);

// Answers of the core as JSON with the names that they have in Python; the keys of Maps are data and stay.
export function told(value) {
  if (Array.isArray(value)) return value.map(told);
  if (value instanceof Map) return Object.fromEntries([...value].map(([key, inner]) => [key, told(inner)]));
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([name, inner]) => [snake(name), told(inner)]));
}
