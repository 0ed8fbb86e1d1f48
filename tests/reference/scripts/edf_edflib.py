"""EDF+ through EDFlib (Teunis van Beelen; Debian package libedf1, BSD), called by ctypes: no other module needed.

    python3 edf_edflib.py version
    python3 edf_edflib.py read FILE      prints what EDFlib finds in FILE as JSON
    python3 edf_edflib.py write FILE     makes an EDF+ file of a formula and prints its values as JSON
"""
import ctypes as c
import json
import math
import sys

lib = c.CDLL('libedf.so.1')
TICKS_PER_S = 10_000_000


class Param(c.Structure):
    _fields_ = [('label', c.c_char * 17), ('smp_in_file', c.c_longlong), ('phys_max', c.c_double),
                ('phys_min', c.c_double), ('dig_max', c.c_int), ('dig_min', c.c_int),
                ('smp_in_datarecord', c.c_int), ('physdimension', c.c_char * 9),
                ('prefilter', c.c_char * 81), ('transducer', c.c_char * 81)]


class Annotation(c.Structure):
    _fields_ = [('onset', c.c_longlong), ('duration_l', c.c_longlong), ('duration', c.c_char * 16),
                ('annotation', c.c_char * 513)]


class Header(c.Structure):
    _fields_ = [('handle', c.c_int), ('filetype', c.c_int), ('edfsignals', c.c_int),
                ('file_duration', c.c_longlong), ('day', c.c_int), ('month', c.c_int), ('year', c.c_int),
                ('subsecond', c.c_longlong), ('second', c.c_int), ('minute', c.c_int), ('hour', c.c_int),
                ('patient', c.c_char * 81), ('recording', c.c_char * 81), ('patientcode', c.c_char * 81),
                ('gender', c.c_char * 16), ('birthdate', c.c_char * 16), ('birthdate_day', c.c_int),
                ('birthdate_month', c.c_int), ('birthdate_year', c.c_int), ('patient_name', c.c_char * 81),
                ('patient_additional', c.c_char * 81), ('admincode', c.c_char * 81),
                ('technician', c.c_char * 81), ('equipment', c.c_char * 81),
                ('recording_additional', c.c_char * 81), ('datarecord_duration', c.c_longlong),
                ('datarecords_in_file', c.c_longlong), ('annotations_in_file', c.c_longlong),
                ('signals', Param * 640)]


def checked(result):
    if result < 0:
        raise RuntimeError(f'EDFlib says {result}')
    return result


def text(field):
    return field.decode('utf-8').rstrip()


def read(path):
    header = Header()
    if lib.edfopen_file_readonly(path.encode(), c.byref(header), 2) != 0:
        return {'error': header.filetype}
    handle = header.handle
    signals = []
    for i in range(header.edfsignals):
        signal = header.signals[i]
        count = signal.smp_in_file
        physical = (c.c_double * count)()
        got = checked(lib.edfread_physical_samples(handle, i, count, physical))
        signals.append({
            'label': text(signal.label), 'dimension': text(signal.physdimension),
            'rateHz': signal.smp_in_datarecord * TICKS_PER_S / header.datarecord_duration,
            'step': (signal.phys_max - signal.phys_min) / (signal.dig_max - signal.dig_min),
            'samples': list(physical)[:got]})
    annotations = []
    for n in range(header.annotations_in_file):
        annotation = Annotation()
        checked(lib.edf_get_annotation(handle, n, c.byref(annotation)))
        annotations.append({'onsetS': annotation.onset / TICKS_PER_S, 'text': text(annotation.annotation)})
    checked(lib.edfclose_file(handle))
    start = f'{header.year:04}-{header.month:02}-{header.day:02}T{header.hour:02}:{header.minute:02}:{header.second:02}'
    return {'filetype': header.filetype, 'start': start, 'subsecondS': header.subsecond / TICKS_PER_S,
            'patientCode': text(header.patientcode), 'patientName': text(header.patient_name),
            'durationS': header.file_duration / TICKS_PER_S, 'signals': signals, 'annotations': annotations}


def write(path):
    rate, seconds = 50, 4
    names = [('Acc X', 'g', 2), ('Acc Y', 'g', 2), ('Acc Z', 'g', 2), ('Gyro X', 'deg/s', 250),
             ('Gyro Y', 'deg/s', 250), ('Gyro Z', 'deg/s', 250)]
    handle = checked(lib.edfopen_file_writeonly(path.encode(), 1, len(names)))
    for i, (label, dimension, reach) in enumerate(names):
        checked(lib.edf_set_samplefrequency(handle, i, rate))
        checked(lib.edf_set_physical_maximum(handle, i, c.c_double(reach)))
        checked(lib.edf_set_physical_minimum(handle, i, c.c_double(-reach)))
        checked(lib.edf_set_digital_maximum(handle, i, 32767))
        checked(lib.edf_set_digital_minimum(handle, i, -32768))
        checked(lib.edf_set_label(handle, i, label.encode()))
        checked(lib.edf_set_physical_dimension(handle, i, dimension.encode()))
    checked(lib.edf_set_startdatetime(handle, 2026, 3, 2, 10, 20, 30))
    checked(lib.edf_set_subsecond_starttime(handle, 2_500_000))
    channels = [[0.3 * math.sin(0.1 * (i + 1) * n) + (1 if i == 2 else 0) if i < 3 else 40 * math.cos(0.05 * i * n)
                 for n in range(rate * seconds)] for i in range(len(names))]
    for second in range(seconds):
        for channel in channels:
            block = (c.c_double * rate)(*channel[second * rate:(second + 1) * rate])
            checked(lib.edfwrite_physical_samples(handle, block))
    marks = [(0.5, 'support-off'), (1.25, 'repetition-start'), (2.0, 'Übung: ruhig'), (3.75, 'repetition-end')]
    for onset_s, words in marks:
        # In units of 100 µs from the first sample.
        checked(lib.edfwrite_annotation_utf8(handle, c.c_longlong(round(onset_s * 10_000)), c.c_longlong(-1),
                                             words.encode('utf-8')))
    checked(lib.edfclose_file(handle))
    return {'rateHz': rate, 'start': '2026-03-02T10:20:30', 'subsecondS': 0.25, 'marks': marks,
            'signals': [{'label': label, 'dimension': dimension, 'step': 2 * reach / 65535, 'samples': channel}
                        for (label, dimension, reach), channel in zip(names, channels)]}


if __name__ == '__main__':
    command = sys.argv[1]
    if command == 'version':
        print(lib.edflib_version())
    else:
        print(json.dumps({'read': read, 'write': write}[command](sys.argv[2])))
