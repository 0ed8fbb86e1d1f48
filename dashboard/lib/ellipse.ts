export interface EllipseShape {
  /** Semi-axes, and the angle of the major one from +x towards +y, degrees. */
  major: number
  minor: number
  angleDeg: number
}

/** Points on an ellipse around (0, 0), closed, as [x, y] pairs. */
export function ellipseOutline(shape: EllipseShape, points = 72): [number, number][] {
  const angle = (shape.angleDeg * Math.PI) / 180
  return Array.from({ length: points }, (_, k) => {
    const t = (2 * Math.PI * k) / points
    const along = shape.major * Math.cos(t)
    const across = shape.minor * Math.sin(t)
    return [
      along * Math.cos(angle) - across * Math.sin(angle),
      along * Math.sin(angle) + across * Math.cos(angle),
    ]
  })
}

/** Direction of the largest spread of (x, y), degrees: ½·atan2(2·s_xy, s_xx − s_yy). */
export function majorAngleDeg(x: readonly number[], y: readonly number[]): number {
  const meanX = x.reduce((sum, v) => sum + v, 0) / x.length
  const meanY = y.reduce((sum, v) => sum + v, 0) / y.length
  let xx = 0
  let yy = 0
  let xy = 0
  for (let i = 0; i < x.length; i++) {
    xx += (x[i] - meanX) ** 2
    yy += (y[i] - meanY) ** 2
    xy += (x[i] - meanX) * (y[i] - meanY)
  }
  return (Math.atan2(2 * xy, xx - yy) * 90) / Math.PI
}
