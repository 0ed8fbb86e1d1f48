/**
 * An SVG path of M, L and Z with absolute coordinates, filled by the non-zero winding rule (SVG 2 §13.4.2)
 * and sampled at the middle of each unit square of a view box: RGBA, `scale` pixels a square.
 */
export function fillPath(d: string, viewBox: readonly number[], scale: number) {
  const [left, top, width, height] = viewBox
  const edges: [number, number, number, number][] = []
  for (const outline of d.split('Z').filter((part) => part.trim() !== '')) {
    const points = outline
      .replace(/^\s*M/, '')
      .split('L')
      .map((point) =>
        point
          .trim()
          .split(/[\s,]+/)
          .map(Number),
      )
    points.forEach(([x, y], i) => {
      const [nextX, nextY] = points[(i + 1) % points.length]
      edges.push([x, y, nextX, nextY])
    })
  }
  const isInside = (x: number, y: number) => {
    let winding = 0
    for (const [x1, y1, x2, y2] of edges) {
      if (y1 <= y === y2 <= y) continue
      const crossX = x1 + ((y - y1) / (y2 - y1)) * (x2 - x1)
      if (crossX > x) winding += y2 > y1 ? 1 : -1
    }
    return winding !== 0
  }
  const pixels = new Uint8ClampedArray(width * height * scale * scale * 4).fill(255)
  for (let row = 0; row < height; row++) {
    for (let column = 0; column < width; column++) {
      if (!isInside(left + column + 0.5, top + row + 0.5)) continue
      for (let i = 0; i < scale * scale; i++) {
        const x = column * scale + (i % scale)
        const y = row * scale + Math.floor(i / scale)
        pixels.fill(0, 4 * (y * width * scale + x), 4 * (y * width * scale + x) + 3)
      }
    }
  }
  return { pixels, width: width * scale, height: height * scale }
}
