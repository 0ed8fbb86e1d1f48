/** Of each request that was refused. */
const REFUSED = ['by', 'address', 'method', 'route', 'problem'] as const

/** Everything this server says in its log. LOGS.md tells the same to whoever reads one; a test compares the two. */
export const LOG_EVENTS = {
  // Coming in and going out.
  'sign-in.done': event('info', 'somebody signed in', 'by', 'address', 'secondFactor'),
  'sign-in.failed': event('warn', 'name, password or code was wrong', 'person', 'address', 'problem'),
  'sign-in.locked': event('warn', 'a name has to wait after failures', 'person', 'address'),
  'sign-in.over': event('info', 'a sign-in has ended or is none', 'address', 'method', 'route'),
  'sign-in.ended': event('info', 'somebody ended sign-ins of their own', 'by', 'which'),
  'sign-out': event('info', 'somebody signed out', 'by', 'address'),
  'password.changed': event('info', 'a password was set', 'by', 'address'),
  'password.reset': event('warn', 'a password was set by a link', 'person', 'address'),
  'owner-password.set': event(
    'warn',
    'the owner has the password of this setting now: remove the setting and the file',
    'setting',
    'signInName',
  ),
  'owner-password.ignored': event(
    'warn',
    'the owner has a password already: remove the setting and the file',
    'setting',
  ),
  'reset-link.made': event('warn', 'the keeper made a link for a new password', 'by', 'person'),
  'second-factor.on': event('info', 'an account asks for a second factor', 'by'),
  'second-factor.off': event('warn', 'an account asks for no second factor any more', 'by'),
  'account.joined': event('info', 'a link made an account', 'by', 'address'),
  'account.renamed': event('info', 'names of an account changed', 'by'),
  'account.locked': event('warn', 'an account was locked', 'by', 'person'),
  'account.unlocked': event('warn', 'an account was unlocked', 'by', 'person'),
  'account.removed': event('warn', 'an account was deleted', 'by', 'person'),

  // Who may do what.
  'role.changed': event('info', 'somebody has another role with a dog', 'by', 'person', 'dogId', 'role'),
  'role.removed': event('info', 'somebody has no role with a dog any more', 'by', 'person', 'dogId'),
  'invitation.made': event('info', 'a link invites to a dog', 'by', 'dogId', 'role'),
  'invitation.withdrawn': event('info', 'an invitation no longer works', 'by', 'dogId'),
  'invitation.used': event('info', 'somebody took the role they were invited to', 'by', 'address'),
  'share.made': event('info', 'a link shows a session or a report', 'by', 'dogId', 'share', 'kind'),
  'share.opened': event('info', 'a link that shows something was opened', 'share', 'address'),
  'share.ended': event('info', 'a link that showed something was ended', 'by', 'dogId', 'share'),
  'pairing.made': event('info', 'a link lets a phone record a session', 'by', 'sessionId'),
  'pairing.used': event('info', 'a phone was paired with a session', 'sessionId', 'address'),
  'dog.deleted': event('warn', 'a dog was deleted', 'by'),

  // What was refused.
  'access.nobody': event('info', 'nobody is signed in', 'address', 'method', 'route'),
  'access.refused': event('warn', 'not with this role', ...REFUSED),
  'link.refused': event('warn', 'a link did not work', ...REFUSED),
  'socket.refused': event('warn', 'a live socket was not allowed', 'socket', 'problem'),
  'socket.misused': event('warn', 'a live socket said what none may', 'socket', 'problem'),
  'cross-site.refused': event('warn', 'another site asked', ...REFUSED, 'origin'),
  'address.refused': event('warn', 'asked under a wrong address', ...REFUSED, 'host'),
  'limit.reached': event('warn', 'somebody reached a bound', ...REFUSED),
  'input.refused': event('info', 'a request was not valid', ...REFUSED),
  'upload.refused': event('warn', 'a file was refused by a bound', ...REFUSED),

  // Requests and sockets.
  'request.begun': event('debug', 'a request came in', 'address', 'method', 'path'),
  'request.done': event('info', 'answered', 'address', 'method', 'path', 'route', 'status', 'ms'),
  'request.failed': event('error', 'a request failed', 'problem', 'method', 'route', 'err'),
  'request.broken': event('info', 'an answer broke off', 'method', 'route', 'err'),
  'socket.opened': event('info', 'a live socket opened', 'socket', 'by', 'address'),
  'socket.closed': event('info', 'a live socket closed', 'socket', 'closeCode'),
  'socket.failed': event('info', 'a live socket failed', 'err'),
  'sender.failed': event('error', 'a message of a sender failed', 'problem', 'err'),
  'viewer.failed': event('error', 'a message of a viewer failed', 'err'),

  // The work behind them.
  'analysis.failed': event('error', 'a session could not be analysed', 'sessionId', 'err'),
  'analysis.waits': event('warn', 'the samples of a session cannot be read yet', 'sessionId', 'err'),
  'analysis.stays-open': event('error', 'a session that waited was not analysed', 'sessionId', 'err'),
  'recording.not-analysed': event('error', 'a recording could not be analysed', 'sessionId', 'err'),
  'recording.not-ended': event('error', 'an abandoned recording could not be ended', 'sessionId', 'err'),
  'stream.not-compacted': event('error', 'a stream stays in short packets', 'sessionId', 'err'),
  'live-analysis.stopped': event('error', 'samples go on, figures do not', 'stream', 'index', 'err'),
  'live-analysis.waits': event('warn', 'stored samples cannot be read yet', 'stream', 'err'),
  'live-analysis.not-rebuilt': event('error', 'a live analysis could not be built anew', 'err'),
  'permission.unreadable': event('error', 'a permission could not be read: its socket ends', 'err'),
  'access.not-swept': event('error', 'sign-ins and links that ended were not removed', 'err'),
  'export.failed': event('error', 'an export could not be completed', 'dogId', 'err'),
  'store.work-failed': event('error', 'samples were not compacted or moved; they stay as they are', 'err'),
  'samples.damaged': event(
    'error',
    'stored samples are damaged',
    'stream',
    'firstIndex',
    'endIndex',
    'sessionId',
    'err',
  ),
  'data.brought-up-to-date': event(
    'warn',
    'the data was of an earlier version; copy is what it was: restore it to go back',
    'migrations',
    'copy',
  ),
  'storage.stopped': event('error', 'nothing can be stored', 'trouble', 'since'),
  'storage.back': event('warn', 'storing goes on'),

  // The process.
  'server.listening': event(
    'info',
    'who can reach this server',
    'exposure',
    'host',
    'port',
    'origins',
    'tls',
  ),
  'server.not-stopped': event('fatal', 'the server could not stop in order', 'err'),
  'dashboard.missing': event('warn', 'the dashboard is not built: only /api is served', 'dir'),
  'demo.not-started': event('error', 'the demo did not start', 'status'),
  'demo.stopped': event('error', 'the demo stopped', 'err'),
  'certificate.read': event('info', 'the certificate was read', 'days', 'expiresAt'),
  'certificate.ends-soon': event('warn', 'the certificate ends soon: renew it', 'days', 'expiresAt'),
  'certificate.refused': event('error', 'a certificate cannot be served; the one before is', 'err'),
} as const

export type LogEvent = keyof typeof LOG_EVENTS
export type LogField<E extends LogEvent> = (typeof LOG_EVENTS)[E]['fields'][number]

/** What a library says of itself; its level and fields are its own. */
export const LIBRARY_EVENT = 'library'

type Level = 'fatal' | 'error' | 'warn' | 'info' | 'debug'

function event<const L extends Level, const Fields extends readonly string[]>(
  level: L,
  words: string,
  ...fields: Fields
) {
  return { level, words, fields }
}
