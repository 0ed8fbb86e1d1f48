/** The path, with its anchor, a click should lead to inside the dashboard, or null when the browser should act. */
export function pathOfClick(event: MouseEvent): string | null {
  if (event.defaultPrevented || event.button !== 0) return null
  if (event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return null
  const anchor = event.target instanceof Element ? event.target.closest('a') : null
  const href = anchor?.getAttribute('href')
  if (!anchor || !href || href.startsWith('#')) return null
  if (anchor.hasAttribute('download') || anchor.hasAttribute('target')) return null
  const url = new URL(href, window.location.href)
  if (url.origin !== window.location.origin || url.pathname.startsWith('/api/')) return null
  return url.pathname + url.hash
}
