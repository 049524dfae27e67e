// What a live picture says of itself: how sharp it is, and how much of it is blown out.

const GLARE_FROM = 250; // of 255; a camera's own sharpening and compression keep blown-out places a little below 255

/** Luma of ITU-R BT.601, one number a pixel. */
function luma({ data, width, height }) {
  const grey = new Float32Array(width * height);
  for (let i = 0, p = 0; i < grey.length; i += 1, p += 4) grey[i] = 0.299 * data[p] + 0.587 * data[p + 1] + 0.114 * data[p + 2];
  return grey;
}

/**
 * Variance of the 4-neighbour Laplacian over the inner pixels. It has no unit that carries from one view to another:
 * compare it only with itself while the same place is being focused.
 */
export function sharpness(image) {
  const { width, height } = image, grey = luma(image);
  let count = 0, sum = 0, squares = 0;
  for (let y = 1; y < height - 1; y += 1) {
    for (let x = 1, i = y * width + 1; x < width - 1; x += 1, i += 1) {
      const bend = grey[i - 1] + grey[i + 1] + grey[i - width] + grey[i + width] - 4 * grey[i];
      count += 1; sum += bend; squares += bend * bend;
    }
  }
  return count ? squares / count - (sum / count) ** 2 : 0;
}

/** Share of pixels in which all three channels are blown out: there the face can't be read. */
export function glareShare({ data }) {
  let blown = 0;
  for (let p = 0; p < data.length; p += 4) if (Math.min(data[p], data[p + 1], data[p + 2]) >= GLARE_FROM) blown += 1;
  return data.length ? blown / (data.length / 4) : 0;
}
