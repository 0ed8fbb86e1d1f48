/** How a phone can lie in a harness, and the mount that `parseMount` reads. x right, y top, z out of the screen. */
export interface PhoneMount {
  readonly mount: string
  readonly words: string
}

/** The axes of the first six; the last one leaves left and right, front and back unknown. */
export const PHONE_MOUNTS: readonly PhoneMount[] = [
  { mount: 'y=cranial,z=dorsal', words: 'On the back: screen up, top of the phone to the head' },
  { mount: 'y=caudal,z=dorsal', words: 'On the back: screen up, top of the phone to the tail' },
  { mount: 'z=left,y=cranial', words: "On the dog's left side: screen outwards, top to the head" },
  { mount: 'z=left,y=dorsal', words: "On the dog's left side: screen outwards, top upwards" },
  { mount: 'z=right,y=cranial', words: "On the dog's right side: screen outwards, top to the head" },
  { mount: 'z=right,y=dorsal', words: "On the dog's right side: screen outwards, top upwards" },
  { mount: 'auto', words: 'Another way, or I do not know' },
]
