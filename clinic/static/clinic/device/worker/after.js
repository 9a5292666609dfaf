/** @param {number} time milliseconds */
export const after = (time) => new Promise((resolve) => setTimeout(resolve, time));
