/**
 * TLS 1.2 and newer, only with forward secrecy and authenticated encryption, the stronger first (RFC 9325 §4.2;
 * the list of 1.2 is the "intermediate" one of Mozilla's Server Side TLS 5.7, from memory).
 */
export const TLS_PROTOCOL = {
  minVersion: 'TLSv1.2',
  honorCipherOrder: true,
  ciphers: [
    'TLS_AES_256_GCM_SHA384',
    'TLS_CHACHA20_POLY1305_SHA256',
    'TLS_AES_128_GCM_SHA256',
    'ECDHE-ECDSA-AES256-GCM-SHA384',
    'ECDHE-RSA-AES256-GCM-SHA384',
    'ECDHE-ECDSA-CHACHA20-POLY1305',
    'ECDHE-RSA-CHACHA20-POLY1305',
    'ECDHE-ECDSA-AES128-GCM-SHA256',
    'ECDHE-RSA-AES128-GCM-SHA256',
  ].join(':'),
} as const
