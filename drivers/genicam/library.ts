import koffi from 'koffi';
import { bind, out, type Binding, type Handle } from './fallible.ts';

const P = 'void *';

/** A number that the library wrote to a pointer; 64-bit ones come as bigint where they are large. */
type Written = [number | bigint];

function systemCalls({ plain, fallible }: Binding) {
  const text = (name: string) => plain<[index: number], string | null>(name, 'const char *', ['uint']);
  return {
    updateDeviceList: plain<[], void>('arv_update_device_list', 'void', []),
    deviceCount: plain<[], number>('arv_get_n_devices', 'uint', []),
    deviceId: text('arv_get_device_id'),
    deviceAddress: text('arv_get_device_address'),
    deviceVendor: text('arv_get_device_vendor'),
    deviceModel: text('arv_get_device_model'),
    deviceSerial: text('arv_get_device_serial_nbr'),
    deviceProtocol: text('arv_get_device_protocol'),
    /** By device id or address. It never gives back null without an error. */
    openCamera: fallible<[name: string], Handle>('arv_camera_new', P, ['const char *']),
    unref: plain<[object: Handle], void>('g_object_unref', 'void', [P]),
  };
}

function cameraCalls({ plain, fallible }: Binding) {
  const text = (name: string) => fallible<[camera: Handle], string | null>(name, 'const char *', [P]);
  return {
    vendorName: text('arv_camera_get_vendor_name'),
    modelName: text('arv_camera_get_model_name'),
    serialNumber: text('arv_camera_get_device_serial_number'),
    deviceOf: plain<[camera: Handle], Handle>('arv_camera_get_device', P, [P]),
    isNetworkCamera: plain<[camera: Handle], number>('arv_camera_is_gv_device', 'int', [P]),
    isController: plain<[device: Handle], number>('arv_gv_device_is_controller', 'int', [P]),
    readRegister: fallible<[device: Handle, address: number, value: Written], number>('arv_device_read_register', 'int', [P, 'uint64', out('uint32')]),
    autoPacketSize: fallible<[camera: Handle], number>('arv_camera_gv_auto_packet_size', 'uint', [P]),
    setPacketSize: fallible<[camera: Handle, bytes: number], void>('arv_camera_gv_set_packet_size', 'void', [P, 'int']),
    packetSize: fallible<[camera: Handle], number>('arv_camera_gv_get_packet_size', 'uint', [P]),
    setPacketSizeAdjustment: plain<[camera: Handle, adjustment: number], void>('arv_camera_gv_set_packet_size_adjustment', 'void', [P, 'int']),
    payloadBytes: fallible<[camera: Handle], number>('arv_camera_get_payload', 'uint', [P]),
    createStream: fallible<[camera: Handle, callback: null, data: null], Handle>('arv_camera_create_stream', P, [P, P, P]),
    startAcquisition: fallible<[camera: Handle], void>('arv_camera_start_acquisition', 'void', [P]),
    stopAcquisition: fallible<[camera: Handle], void>('arv_camera_stop_acquisition', 'void', [P]),
    setAcquisitionMode: fallible<[camera: Handle, mode: number], void>('arv_camera_set_acquisition_mode', 'void', [P, 'int']),
    setTrigger: fallible<[camera: Handle, source: string], void>('arv_camera_set_trigger', 'void', [P, 'const char *']),
    clearTriggers: fallible<[camera: Handle], void>('arv_camera_clear_triggers', 'void', [P]),
    hasSoftwareTrigger: fallible<[camera: Handle], number>('arv_camera_is_software_trigger_supported', 'int', [P]),
    softwareTrigger: fallible<[camera: Handle], void>('arv_camera_software_trigger', 'void', [P]),
  };
}

function settingCalls({ fallible }: Binding) {
  const get = (name: string, result: string) => fallible<[camera: Handle], number>(name, result, [P]);
  const bounds = (name: string, type: string) => fallible<[camera: Handle, min: Written, max: Written], void>(name, 'void', [P, out(type), out(type)]);
  return {
    exposureUs: get('arv_camera_get_exposure_time', 'double'),
    setExposureUs: fallible<[camera: Handle, us: number], void>('arv_camera_set_exposure_time', 'void', [P, 'double']),
    exposureBoundsUs: bounds('arv_camera_get_exposure_time_bounds', 'double'),
    hasGain: get('arv_camera_is_gain_available', 'int'),
    gain: get('arv_camera_get_gain', 'double'),
    setGain: fallible<[camera: Handle, gain: number], void>('arv_camera_set_gain', 'void', [P, 'double']),
    gainBounds: bounds('arv_camera_get_gain_bounds', 'double'),
    hasFrameRate: get('arv_camera_is_frame_rate_available', 'int'),
    setFrameRate: fallible<[camera: Handle, perS: number], void>('arv_camera_set_frame_rate', 'void', [P, 'double']),
    frameRateBounds: bounds('arv_camera_get_frame_rate_bounds', 'double'),
    hasBinning: get('arv_camera_is_binning_available', 'int'),
    setBinning: fallible<[camera: Handle, across: number, down: number], void>('arv_camera_set_binning', 'void', [P, 'int', 'int']),
    binningBoundsX: bounds('arv_camera_get_x_binning_bounds', 'int'),
    binningBoundsY: bounds('arv_camera_get_y_binning_bounds', 'int'),
    binning: fallible<[camera: Handle, across: Written, down: Written], void>('arv_camera_get_binning', 'void', [P, out('int'), out('int')]),
    pixelFormat: get('arv_camera_get_pixel_format', 'uint32'),
    setPixelFormat: fallible<[camera: Handle, code: number], void>('arv_camera_set_pixel_format', 'void', [P, 'uint32']),
    pixelFormats: fallible<[camera: Handle, count: Written], Handle | null>('arv_camera_dup_available_pixel_formats', P, [P, out('uint')]),
    sensorSize: fallible<[camera: Handle, width: Written, height: Written], void>('arv_camera_get_sensor_size', 'void', [P, out('int'), out('int')]),
    setRegion: fallible<[camera: Handle, x: number, y: number, width: number, height: number], void>('arv_camera_set_region', 'void', [P, 'int', 'int', 'int', 'int']),
    region: fallible<[camera: Handle, x: Written, y: Written, width: Written, height: Written], void>('arv_camera_get_region', 'void', [P, out('int'), out('int'), out('int'), out('int')]),
    widthBounds: bounds('arv_camera_get_width_bounds', 'int'),
    heightBounds: bounds('arv_camera_get_height_bounds', 'int'),
    widthStep: get('arv_camera_get_width_increment', 'int'),
    heightStep: get('arv_camera_get_height_increment', 'int'),
    hasOffset: get('arv_camera_is_region_offset_available', 'int'),
    offsetXStep: get('arv_camera_get_x_offset_increment', 'int'),
    offsetYStep: get('arv_camera_get_y_offset_increment', 'int'),
  };
}

function featureCalls({ fallible }: Binding) {
  return {
    hasFeature: fallible<[camera: Handle, feature: string], number>('arv_camera_is_feature_available', 'int', [P, 'const char *']),
    getText: fallible<[camera: Handle, feature: string], string | null>('arv_camera_get_string', 'const char *', [P, 'const char *']),
    setText: fallible<[camera: Handle, feature: string, value: string], void>('arv_camera_set_string', 'void', [P, 'const char *', 'const char *']),
    getBoolean: fallible<[camera: Handle, feature: string], number>('arv_camera_get_boolean', 'int', [P, 'const char *']),
    setBoolean: fallible<[camera: Handle, feature: string, value: number], void>('arv_camera_set_boolean', 'void', [P, 'const char *', 'int']),
    getFloat: fallible<[camera: Handle, feature: string], number>('arv_camera_get_float', 'double', [P, 'const char *']),
    setFloat: fallible<[camera: Handle, feature: string, value: number], void>('arv_camera_set_float', 'void', [P, 'const char *', 'double']),
    floatBounds: fallible<[camera: Handle, feature: string, min: Written, max: Written], void>('arv_camera_get_float_bounds', 'void', [P, 'const char *', out('double'), out('double')]),
    getInteger: fallible<[camera: Handle, feature: string], number | bigint>('arv_camera_get_integer', 'int64', [P, 'const char *']),
    setInteger: fallible<[camera: Handle, feature: string, value: number], void>('arv_camera_set_integer', 'void', [P, 'const char *', 'int64']),
    integerBounds: fallible<[camera: Handle, feature: string, min: Written, max: Written], void>('arv_camera_get_integer_bounds', 'void', [P, 'const char *', out('int64'), out('int64')]),
  };
}

function streamCalls({ plain }: Binding) {
  const ofBuffer = (name: string, result: string) => plain<[buffer: Handle], number>(name, result, [P]);
  return {
    /** g_object_set of one integer property; the list of names and values ends with null. */
    setProperty: plain<[object: Handle, name: string, type: 'int', value: number, endType: 'void *', end: null], void>('g_object_set', 'void', [P, 'const char *', '...']),
    newBuffer: plain<[bytes: number], Handle>('arv_buffer_new_allocate', P, ['size_t']),
    /** The stream takes the buffer over, and frees it in the end. */
    push: plain<[stream: Handle, buffer: Handle], void>('arv_stream_push_buffer', 'void', [P, P]),
    tryPop: plain<[stream: Handle], Handle | null>('arv_stream_try_pop_buffer', P, [P]),
    /** Null is a timeout, not an error. */
    popWithin: plain<[stream: Handle, us: number], Handle | null>('arv_stream_timeout_pop_buffer', P, [P, 'uint64']),
    statistic: plain<[stream: Handle, name: string], number | bigint>('arv_stream_get_info_uint64_by_name', 'uint64', [P, 'const char *']),
    status: ofBuffer('arv_buffer_get_status', 'int'),
    payloadType: ofBuffer('arv_buffer_get_payload_type', 'int'),
    width: ofBuffer('arv_buffer_get_image_width', 'int'),
    height: ofBuffer('arv_buffer_get_image_height', 'int'),
    format: ofBuffer('arv_buffer_get_image_pixel_format', 'uint32'),
    padding: plain<[buffer: Handle, x: Written, y: Written], void>('arv_buffer_get_image_padding', 'void', [P, out('int'), out('int')]),
    frameId: plain<[buffer: Handle], number | bigint>('arv_buffer_get_frame_id', 'uint64', [P]),
    arrivedNs: plain<[buffer: Handle], number | bigint>('arv_buffer_get_system_timestamp', 'uint64', [P]),
    imageData: plain<[buffer: Handle, bytes: Written], Handle | null>('arv_buffer_get_image_data', P, [P, out('size_t')]),
  };
}

function memoryCalls({ plain }: Binding) {
  const free = plain<[memory: Handle], void>('g_free', 'void', [P]);
  return {
    /** The numbers of a list that the library made for us, which is freed. */
    takeIntegers(list: Handle, count: number): readonly number[] {
      const numbers = koffi.decode(list, 'int64', count) as Iterable<number | bigint>;
      const copied = Array.from(numbers, Number);
      free(list);
      return copied;
    },
    /** The library's own memory, without a copy: valid only until the buffer is pushed back. */
    view: (data: Handle, bytes: number): Uint8Array => new Uint8Array(koffi.view(data, bytes)),
  };
}

/** The calls of Aravis 0.8 that this driver makes, by the names and types of its headers. Throws `libraryMissing`. */
export function loadLibrary(name: string) {
  const binding = bind(name);
  return { ...systemCalls(binding), ...cameraCalls(binding), ...settingCalls(binding), ...featureCalls(binding), ...streamCalls(binding), ...memoryCalls(binding) };
}

export type Library = ReturnType<typeof loadLibrary>;
