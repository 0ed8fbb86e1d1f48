import { pathOfClick } from './link-clicks'
import { routeOf } from './routes'

/**
 * The address bar as reactive state. An own one because sv-router 0.16 takes over clicks with
 * Ctrl, Shift or ⌘ held (no new tab) and keeps its routes in module state shared between tests.
 */
export class Router {
  #path = $state(window.location.pathname)
  #route = $derived(routeOf(this.#path))
  #questions: readonly (() => boolean)[] = []

  get path() {
    return this.#path
  }

  get route() {
    return this.#route
  }

  /** Asks before a screen with something unsaved is left; returns the remover. */
  askBeforeLeaving(mayLeave: () => boolean): () => void {
    this.#questions = [...this.#questions, mayLeave]
    return () => {
      this.#questions = this.#questions.filter((question) => question !== mayLeave)
    }
  }

  go(path: string, options: { replace?: boolean } = {}) {
    if (!this.#mayLeave()) return
    if (options.replace) history.replaceState(null, '', path)
    else history.pushState(null, '', path)
    this.#path = window.location.pathname
    window.scrollTo({ top: 0 })
  }

  /** Listens to back, forward and plain clicks on links of this dashboard; returns the remover. */
  listen(): () => void {
    const onPop = () => {
      if (window.location.pathname !== this.#path && !this.#mayLeave()) {
        // Back is already done when it is told: it is taken forward again.
        history.pushState(null, '', this.#path)
        return
      }
      this.#path = window.location.pathname
    }
    const onClick = (event: MouseEvent) => {
      const path = pathOfClick(event)
      if (path === null) return
      event.preventDefault()
      this.go(path)
    }
    window.addEventListener('popstate', onPop)
    document.addEventListener('click', onClick)
    return () => {
      window.removeEventListener('popstate', onPop)
      document.removeEventListener('click', onClick)
    }
  }

  #mayLeave(): boolean {
    return this.#questions.every((mayLeave) => mayLeave())
  }
}
