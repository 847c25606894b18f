import { stringify } from 'yaml';
import { parseInstrument, type InstrumentConfig } from '../../../daemon/config/index.ts';
import { tinyInstrument } from '../../support/tinyFiles.ts';

/** Stable names of two made-up serial adapters, as udev would lay them. */
export const STAGE_PORT = '/dev/serial/by-id/usb-Tarnbeck_Line_Adapter_TB0417-if00-port0';
export const SPARE_PORT = '/dev/serial/by-id/usb-Tarnbeck_Line_Adapter_TB0999-if00-port0';

const gcode = {
  stage: { driver: 'gcode', line: 'motion', gcode: { x: { stepsPerMm: 800 }, y: { stepsPerMm: 800 } } },
  focus: { driver: 'gcode', line: 'motion', gcode: { z: { stepsPerMm: 3200 } }, expectedUm: 1000 },
};

/** The text of an instrument file whose stage and focus drive are behind one line, and whose camera is the given one. */
export function instrumentText(line: object = { serial: { port: STAGE_PORT } }, camera: object = { driver: 'genicam', genicam: { serial: 'HL-2207' } }): string {
  const tiny = tinyInstrument();
  const { widthPx, heightPx, pixelPitchUm, bits } = tiny.camera;
  return stringify({ ...tiny, ...gcode, lines: { motion: line }, camera: { widthPx, heightPx, pixelPitchUm, bits, ...camera }, turret: { driver: 'byHand' }, lamp: { driver: 'byHand' } });
}

export function instrumentWith(line?: object, camera?: object): InstrumentConfig {
  return parseInstrument(instrumentText(line, camera), 'made-up.yaml');
}

/** Everything simulated: nothing is asked of the computer. */
export function simulatedInstrument(): InstrumentConfig {
  return parseInstrument(stringify(tinyInstrument()), 'made-up.yaml');
}
