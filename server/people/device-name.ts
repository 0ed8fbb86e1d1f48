const BROWSERS: readonly (readonly [RegExp, string])[] = [
  [/Edg(?:e|A|iOS)?\//, 'Edge'],
  [/OPR\//, 'Opera'],
  [/SamsungBrowser\//, 'Samsung Internet'],
  [/(?:Firefox|FxiOS)\//, 'Firefox'],
  [/(?:Chrome|CriOS)\//, 'Chrome'],
  [/Safari\//, 'Safari'],
]
const SYSTEMS: readonly (readonly [RegExp, string])[] = [
  [/iPhone/, 'iPhone'],
  [/iPad/, 'iPad'],
  [/Android/, 'Android'],
  [/Windows/, 'Windows'],
  [/Mac OS X/, 'macOS'],
  [/CrOS/, 'ChromeOS'],
  [/Linux/, 'Linux'],
]

/** What a person recognises a device by, from User-Agent; browsers differ in order (from memory), so most special first. */
export function deviceName(userAgent: string | undefined): string {
  const text = userAgent ?? ''
  const found = (list: typeof BROWSERS) => list.find(([pattern]) => pattern.test(text))?.[1]
  const [browser, system] = [found(BROWSERS), found(SYSTEMS)]
  if (browser && system) return `${browser} on ${system}`
  return browser ?? system ?? 'another program'
}
