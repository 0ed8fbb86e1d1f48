import type { Problem } from '#protocol/resources'

/**
 * Every failure the server expects: the HTTP status (or, for sockets, the close code of a fatal
 * error), and what a person reads. `{name}` is filled from the error's values.
 */
export const ERRORS = {
  REQUEST_INVALID: { status: 400, title: 'The request is not valid', detail: '{reason}' },
  TIME_ZONE_UNKNOWN: {
    status: 400,
    title: 'Unknown time zone',
    detail: 'There is no time zone {timeZone}. Send an IANA name, such as Europe/Berlin.',
  },
  HOST_REFUSED: {
    status: 403,
    title: 'Unknown address',
    detail:
      'This server answers only at the address it prints when it starts, not at {host}. If people open it ' +
      'there, name that address in SWAYBOOK_PUBLIC_URL.',
  },
  ORIGIN_REFUSED: {
    status: 403,
    title: 'Another site may not do this',
    detail: 'The request came from a page at {origin}. Open Swaybook at its own address.',
  },
  PROXY_NOT_TOLD: {
    status: 403,
    title: 'There is a proxy in front',
    detail:
      'The request came through a proxy ({header}) that this server was not told of. Start Swaybook with ' +
      '--behind-proxy, or open it at its own address.',
  },
  PROXY_BYPASSED: {
    status: 403,
    title: 'Only through the proxy',
    detail:
      'This server answers its proxy only, and {address} is not the address of one. Open it at its public ' +
      'address; if that is the proxy, name it in SWAYBOOK_PROXY_ADDRESSES.',
  },
  PROXY_HEADERS: { status: 403, title: 'The proxy leaves something out', detail: '{reason}' },
  SIGN_IN_FIRST: {
    status: 401,
    title: 'Sign in first',
    detail: 'Nobody is signed in here, or the sign-in has ended. Sign in and try again.',
  },
  SIGN_IN_FAILED: {
    status: 401,
    title: 'That did not work',
    detail: 'The name, the password or the code is not right. Check them and try again.',
  },
  CODE_NEEDED: {
    status: 401,
    title: 'A code is needed',
    detail: 'Send the six digits of the authenticator, or one of the recovery codes, as well.',
  },
  SIGN_IN_LOCKED: {
    status: 429,
    title: 'Too many attempts',
    detail: 'There were too many attempts with this name. Wait {seconds} s and try again.',
  },
  SIGN_IN_BUSY: {
    status: 503,
    title: 'Busy',
    detail: 'Too many people sign in at this moment. Try again in a few seconds.',
  },
  ROLE_TOO_LOW: {
    status: 403,
    title: 'Not with your role',
    detail: 'This takes the role {role} with the dog, or a higher one. An owner of the dog can give it.',
  },
  KEEPER_ONLY: {
    status: 403,
    title: 'Not for everybody',
    detail: 'Only the person who looks after this installation may do this.',
  },
  PASSWORD_WEAK: { status: 422, title: 'Choose another password', detail: 'The password is {words}.' },
  SIGN_IN_NAME_TAKEN: {
    status: 409,
    title: 'The name is taken',
    detail: 'Another account has this sign-in name. Choose another one.',
  },
  PERSON_NOT_FOUND: { status: 404, title: 'No such person', detail: 'There is no person {personId}.' },
  NOT_ONESELF: {
    status: 409,
    title: 'Not with your own account',
    detail: 'Nobody can lock or delete the account they use: the installation would be left to nobody.',
  },
  LAST_OWNER: {
    status: 409,
    title: 'The last owner',
    detail: 'A dog would be left without an owner. Make somebody else its owner first, or delete the dog.',
  },
  SIGN_IN_NOT_FOUND: { status: 404, title: 'No such sign-in', detail: 'There is no sign-in {id} of yours.' },
  SECOND_FACTOR_SET: {
    status: 409,
    title: 'There is one already',
    detail: 'Your account asks for a second factor already. Take it away before setting up another.',
  },
  SECOND_FACTOR_NOT_OFFERED: {
    status: 409,
    title: 'Nothing to confirm',
    detail: 'Begin setting up the second factor anew, then send the code of the authenticator.',
  },
  PASSWORD_FIRST: {
    status: 409,
    title: 'Set a password first',
    detail: 'Your account has no password yet. Set one, then this.',
  },
  INVITATION_NOT_VALID: {
    status: 404,
    title: 'This link does not work',
    detail: 'The link was used already, is too old, was withdrawn, or is not complete. Ask for a new one.',
  },
  INVITATION_INCOMPLETE: { status: 422, title: 'Something is missing', detail: '{reason}' },
  INVITATION_NOT_FOUND: { status: 404, title: 'No such invitation', detail: 'There is no invitation {id}.' },
  SHARE_NOT_VALID: {
    status: 404,
    title: 'This link does not work',
    detail: 'The link was ended, is too old, or is not complete. Ask who gave it to you for a new one.',
  },
  SHARE_NOT_FOUND: { status: 404, title: 'No such share', detail: 'There is no share {id} that could end.' },
  METRICS_TOKEN_REQUIRED: {
    status: 401,
    title: 'Metrics need a token',
    detail:
      'Send the token of SWAYBOOK_METRICS_TOKEN_FILE as "Authorization: Bearer …". Without it, ' +
      'metrics are for the keeper alone.',
  },
  NOT_FOUND: { status: 404, title: 'Not found', detail: 'There is nothing at {path}.' },
  DOG_NOT_FOUND: { status: 404, title: 'No such dog', detail: 'There is no dog {dogId}.' },
  SESSION_NOT_FOUND: { status: 404, title: 'No such session', detail: 'There is no session {sessionId}.' },
  PLAN_NOT_FOUND: { status: 404, title: 'No plan', detail: 'Nobody has set a plan for dog {dogId} yet.' },
  CHECK_IN_NOT_FOUND: {
    status: 404,
    title: 'No check-in',
    detail: 'Nobody has said yet how the dog was after session {sessionId}.',
  },
  NOTE_NOT_FOUND: {
    status: 404,
    title: 'No such note',
    detail: 'Session {sessionId} has no note {noteId} on a repetition.',
  },
  DIARY_ENTRY_NOT_FOUND: {
    status: 404,
    title: 'No such entry',
    detail: 'The diary of dog {dogId} has no entry {entryId}.',
  },
  REPORT_NOT_READY: {
    status: 404,
    title: 'No report yet',
    detail: 'Session {sessionId} is {state}: it has no report.',
  },
  HOLD_NOT_FOUND: {
    status: 404,
    title: 'No such hold',
    detail: 'Session {sessionId} has {holds} holds, counted from 0.',
  },
  MARK_NOT_FOUND: { status: 404, title: 'No such mark', detail: 'The session has no mark {markId}.' },
  TRACE_NOT_FOUND: { status: 404, title: 'No trace', detail: 'Session {sessionId} has no samples.' },
  TRACE_DUPLICATE: {
    status: 409,
    title: 'Already stored',
    detail: 'This dog already has a session from exactly this file.',
  },
  SESSION_RECORDING: {
    status: 409,
    title: 'The session is being recorded',
    detail: 'Session {sessionId} is still being recorded. Finish it first.',
  },
  SESSION_NOT_RECORDING: {
    status: 409,
    title: 'The session is not being recorded',
    detail: 'Session {sessionId} is {state} already: there is no recording to finish.',
  },
  PAIRING_NOT_VALID: {
    status: 404,
    title: 'This link does not work',
    detail: 'The link was used already, is too old, or is not complete. Make a new one on the other screen.',
  },
  SESSION_ID_TAKEN: {
    status: 409,
    title: 'The id is taken',
    detail: 'Session {sessionId} belongs to another dog or another sensor. Make a new id.',
  },
  PLAN_CHANGED: {
    status: 412,
    title: 'The plan is another one by now',
    detail: 'The newest version of the plan is {version} (0: none). Read it and decide again.',
  },
  RECORD_CHANGED: {
    status: 412,
    title: 'Somebody changed it meanwhile',
    detail: 'The newest version is {version} (0: none). Read it and decide again.',
  },
  UPLOAD_TOO_LARGE: {
    status: 413,
    title: 'The file is too large',
    detail: 'A trace may have at most {limitMb} MB. Split the recording or lower its rate.',
  },
  BODY_TOO_LARGE: { status: 413, title: 'Too large', detail: 'The request is larger than allowed.' },
  SENSOR_DESCRIPTION_TOO_LARGE: {
    status: 413,
    title: 'Too much about the sensor',
    detail: 'sensorDescription may have {limit} bytes of JSON, not {bytes}.',
  },
  MEDIA_TYPE: { status: 415, title: 'Wrong content type', detail: '{reason}' },
  TRACE_UNREADABLE: { status: 422, title: 'The trace cannot be read', detail: '{reason}' },
  TRACE_NOT_EXPORTABLE: {
    status: 422,
    title: 'The trace does not fit into EDF+',
    detail: '{reason}. Take trace.csv instead: it holds every sample as it came.',
  },
  PLAN_INVALID: { status: 422, title: 'The plan does not hold together', detail: '{reason}' },
  PLANNED_UNKNOWN: {
    status: 422,
    title: 'Not in the plan',
    detail: 'The plan of this dog has no exercise {exerciseId} in version {planVersion}.',
  },
  MARK_BEYOND_END: {
    status: 422,
    title: 'The mark lies beyond the end',
    detail:
      'The mark is at {atS} s, but session {sessionId} ends at {durationS} s. Set it within the recording.',
  },
  EDITS_INVALID: { status: 422, title: 'The corrections do not hold together', detail: '{reason}' },
  DIARY_ENTRY_INVALID: { status: 422, title: 'The entry does not hold together', detail: '{reason}' },
  DOG_EXISTS: {
    status: 409,
    title: 'The dog is here already',
    detail:
      'Dog {dogId} is here already, and two records of one dog cannot be joined. Delete it here first if the ' +
      'archive is to take its place, or leave it as it is.',
  },
  IMPORT_ID_TAKEN: {
    status: 409,
    title: 'Something of it is here already',
    detail: 'Nothing was brought back: {reason}, with another dog.',
  },
  IMPORT_TOO_LARGE: {
    status: 413,
    title: 'The archive is too large',
    detail: 'An archive may have at most {limitMb} MB.',
  },
  IMPORT_REFUSED: { status: 422, title: 'The archive cannot be brought back', detail: '{reason}' },
  IMPORT_TOO_LONG: {
    status: 422,
    title: 'Reading the archive took too long',
    detail: 'The archive was not read within {minutes} minutes; nothing was brought back.',
  },
  IMPORT_TOO_BIG: {
    status: 422,
    title: 'The archive needs too much memory',
    detail: 'Reading the archive needs more memory than it may use; nothing was brought back.',
  },
  IMPORT_STOPPED: {
    status: 503,
    title: 'The server is stopping',
    detail: 'Nothing was brought back. Try again when the server runs.',
  },
  SAMPLES_UNREADABLE: {
    status: 409,
    title: 'Part of the recording cannot be read',
    detail:
      'Stored samples of this recording are damaged: all channels from {parts} cannot be read. What was measured ' +
      'before stays as it is; nothing can be measured again. Whoever looks after this server can restore a backup ' +
      'from before (server/OPERATING.md, "Verify" and "Restore").',
  },
  ANALYSIS_TOO_LONG: {
    status: 422,
    title: 'The analysis took too long',
    detail: 'The trace was not analysed within {seconds} s. Split the recording or lower its rate.',
  },
  ANALYSIS_TOO_BIG: {
    status: 422,
    title: 'The trace needs too much memory',
    detail: 'The trace needs more memory than the analysis may use. Split the recording or lower its rate.',
  },
  PRECONDITION_REQUIRED: {
    status: 428,
    title: 'Say what you change',
    detail: 'Send If-Match with the ETag of what you read, or If-None-Match: * where there is nothing yet.',
  },
  TOO_MANY_REQUESTS: {
    status: 429,
    title: 'Too many requests',
    detail: 'Wait {seconds} s and try again.',
  },
  TOO_MANY_SOCKETS: {
    status: 429,
    title: 'Too many live connections',
    detail: 'There are {limit} live connections from here already. Close some screens and try again.',
  },
  INTERNAL: {
    status: 500,
    title: 'Something went wrong here',
    detail: 'The server failed and wrote the cause to its log. Try again.',
  },
  ANALYSIS_BUSY: {
    status: 503,
    title: 'Busy',
    detail: 'Too many traces are waiting to be analysed. Try again in a minute.',
  },
  TOO_MUCH_AT_ONCE: {
    status: 503,
    title: 'Busy',
    detail: 'Too many files are on their way at once. Wait for the others and try again.',
  },
  SERIES_UNAVAILABLE: {
    status: 503,
    title: 'The samples are out of reach',
    detail: 'The server that keeps the samples does not answer; nothing is lost. Try again in a while.',
  },
  DISK_FAILED: {
    status: 507,
    title: 'The disk takes nothing',
    detail:
      'Nothing more can be stored: the disk of the server is full, read-only or failing. Nothing was changed; what ' +
      'is stored can be read. Make room, or make it writable, and try again.',
  },
  DEMO_UNAVAILABLE: {
    status: 503,
    title: 'The demo cannot run',
    detail: 'The demo needs a listening server that only this computer can reach.',
  },

  // Sockets: `status` is the close code used when the error is fatal (RFC 6455 §7.4).
  MESSAGE_UNREADABLE: { status: 1007, title: 'Unreadable message', detail: 'A text message must be JSON.' },
  FRAME_INVALID: { status: 1007, title: 'Bad sample frame', detail: '{reason}' },
  MESSAGE_INVALID: { status: 1008, title: 'Message refused', detail: '{reason}' },
  HELLO_FIRST: {
    status: 1008,
    title: 'Say hello first',
    detail: 'Sample frames, marks and finish come after hello has been answered with welcome.',
  },
  HELLO_TWICE: { status: 1008, title: 'Hello twice', detail: 'One socket carries one stream.' },
  STREAM_MISMATCH: { status: 1008, title: 'Another stream', detail: '{reason}' },
  SESSION_UNKNOWN: {
    status: 1008,
    title: 'No such session',
    detail: 'There is no session {sessionId}: create it first.',
  },
  SESSION_FINISHED: {
    status: 1008,
    title: 'The session is finished',
    detail: 'Session {sessionId} is finished and takes no more samples.',
  },
  SESSION_DELETED: {
    status: 1008,
    title: 'The session was deleted',
    detail: 'Session {sessionId} was deleted.',
  },
  FRAME_GAP: {
    status: 1008,
    title: 'Samples are missing',
    detail: 'Sample {missingIndex} is missing: send from there, or send a lost frame for what never arrived.',
  },
  FRAME_CHANNELS: {
    status: 1008,
    title: 'Wrong channels',
    detail: 'The hello said {expected} channels, the frame has {channels}.',
  },
  FINISH_TOO_EARLY: {
    status: 1008,
    title: 'More is stored',
    detail: 'The stream already reaches index {nextIndex}; finish names the index after its last sample.',
  },
  ACCESS_ENDED: {
    status: 1008,
    title: 'No longer allowed',
    detail: 'The permission this connection was opened with has ended.',
  },
  TOO_MANY_MESSAGES: { status: 1008, title: 'Too many messages', detail: 'Send fewer messages per second.' },
  STORE_FAILED: {
    status: 1011,
    title: 'Could not store the samples',
    detail:
      'The samples could not be stored; the disk of the server may be full. Keep them, reconnect and send ' +
      'from the index in welcome.',
  },
  SOCKET_FAILED: { status: 1011, title: 'Something went wrong here', detail: 'Reconnect and go on.' },
  TAKEN_OVER: {
    status: 4409,
    title: 'Another sender took over',
    detail: 'A newer connection sends this stream now; this one is closed.',
  },
} as const satisfies Record<string, { status: number; title: string; detail: string }>

export type ErrorCode = keyof typeof ERRORS

/** What a trace error adds to its problem; `code` is its own, more exact one. */
export type ProblemExtras = Partial<
  Pick<
    Problem,
    | 'code'
    | 'file'
    | 'line'
    | 'column'
    | 'value'
    | 'remedy'
    | 'sessionId'
    | 'version'
    | 'reason'
    | 'unreadable'
  >
>

/** A failure from the catalogue. `values` fill the text; `extras` go into the problem as they are. */
export class ServerError extends Error {
  override readonly name = 'ServerError'
  readonly code: ErrorCode
  readonly extras: ProblemExtras
  /** For the field Retry-After of the answer. */
  readonly retryAfterS: number | null

  constructor(
    code: ErrorCode,
    values: Readonly<Record<string, string | number>> = {},
    options: { cause?: unknown; extras?: ProblemExtras; retryAfterS?: number } = {},
  ) {
    super(filled(ERRORS[code].detail, values), { cause: options.cause })
    this.code = code
    this.extras = options.extras ?? {}
    this.retryAfterS = options.retryAfterS ?? null
  }

  get status(): number {
    return ERRORS[this.code].status
  }
}

function filled(text: string, values: Readonly<Record<string, string | number>>): string {
  return text.replace(/\{(\w+)\}/g, (_, name: string) => String(values[name] ?? ''))
}

/** RFC 9457 problem details of a failure, as the answer to one request. */
export function problemOf(error: ServerError, requestId: string): Problem {
  const { title, status } = ERRORS[error.code]
  // What nobody can do anything about has a number that finds it in the log.
  const quoted =
    error.code === 'INTERNAL' ? ` If it stays, tell whoever runs this server: request ${requestId}.` : ''
  return {
    type: `urn:swaybook:problem:${error.code.toLowerCase().replaceAll('_', '-')}`,
    title,
    status,
    detail: error.message + quoted,
    code: error.code,
    requestId,
    ...error.extras,
  }
}
