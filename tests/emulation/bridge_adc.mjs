// Bytes on the converter's bus come in; its answers and its data-ready line come out, with what the bridge gives.
//
// Register-level model of the ADS1220 (data sheet SBAS501), on its own oscillator. Whatever the data sheet forbids is
// kept in `faults`, which a test refuses.

const COMMAND = { reset: 0x06, start: 0x08, powerDown: 0x02 };
const RATES_HZ = [20, 45, 90, 175, 330, 600, 1000];
const FULL_SCALE = 0x7fffff;
const LOWEST = -0x800000;
const RESET_NS = 58e3; // 50 µs and 32 clocks of 4.096 MHz
const HIGH_BEFORE_NS = 8e3; // data-ready rises this long before it falls again, if nobody read
const FASTEST_HZ = 1e9 / 150;
const REFERENCE = { internal: 0, bridge: 2, supply: 3 };
const INTERNAL_V = 2.048;
const OPEN_WIRE_V_PER_NS = 10e-6 / 11e-9 / 1e9; // burn-out current into the filter's capacitors

/** What is connected to the converter. `ratio` is volts of signal per volt of excitation. */
export class Bridge {
  constructor({ ratio = () => 0, supplyV = 3.3, temperatureC = 21.5, offsetV = 2e-6, open = null } = {}) {
    Object.assign(this, { ratio, supplyV, temperatureC, offsetV, open });
  }
}

export class BridgeAdc {
  constructor({ clock, wires, dataReady, bridge = new Bridge(), oscillatorError = 0.007 }) {
    Object.assign(this, { clock, wires, dataReady, bridge, oscillatorError });
    this.settings = [];
    this.faults = [];
    this.readings = 0;
    this.silent = false;
    this.counts = null; // (conversion since the setting was made, ns) → counts, instead of the bridge
    this.onStart = null; // told each time conversions are started
    this.rise = clock.createAlarm(() => this.#setReady(false));
    this.fall = clock.createAlarm(() => this.#convert());
    this.#powerUp();
  }

  /** Follows the chip's SPI peripheral; each byte takes its time on the bus. */
  attach(chip, selectPin) {
    const spi = chip.mcu.spi[0];
    let answer = 0;
    const done = this.clock.createAlarm(() => spi.completeTransmit(answer));
    spi.onTransmit = (byte) => {
      this.#checkBus(spi);
      answer = this.#exchange(byte);
      done.schedule((spi.dataBits * 1e9) / spi.clockFrequency);
    };
    chip.mcu.gpio[selectPin].addListener((state) => this.#select(state === 0));
    this.selected = false;
  }

  /** The setting in force, as register bytes. */
  get registers() {
    return [...this.register];
  }

  #powerUp() {
    this.register = new Uint8Array(4);
    this.running = false;
    this.conversions = 0;
    this.result = 0;
    this.step = 'command';
    this.readyAtNs = this.clock.nanos + RESET_NS;
    for (const alarm of [this.rise, this.fall]) alarm.cancel();
    this.#setReady(false);
  }

  #select(on) {
    this.selected = on;
    this.step = 'command';
  }

  #checkBus(spi) {
    if (!this.selected) this.#fault('byte without chip select');
    if (spi.spiMode !== 1) this.#fault(`SPI mode ${spi.spiMode}`);
    if (spi.clockFrequency > FASTEST_HZ) this.#fault(`SPI clock of ${spi.clockFrequency} Hz`);
    if (this.clock.nanos < this.readyAtNs) this.#fault('access while the chip resets');
  }

  #fault(what) {
    if (this.faults.length < 20) this.faults.push(what);
  }

  #exchange(byte) {
    switch (this.step) {
      case 'command': return this.#command(byte);
      case 'data': return this.#shift();
      case 'read': return this.#registerByte(() => this.register[this.place]);
      default: return this.#registerByte(() => this.#write(byte));
    }
  }

  #command(byte) {
    const [place, count] = [(byte >> 2) & 3, (byte & 3) + 1];
    if ((byte & 0xfe) === COMMAND.reset) this.#powerUp();
    else if ((byte & 0xfe) === COMMAND.start) this.#begin();
    else if ((byte & 0xfe) === COMMAND.powerDown) this.#stop();
    else if ((byte & 0xf0) === 0x10) [this.step, this.left, this.shifting] = ['data', 3, this.result];
    else if ((byte & 0xf0) === 0x20) [this.step, this.place, this.left] = ['read', place, count];
    else if ((byte & 0xf0) === 0x40) [this.step, this.place, this.left] = ['write', place, count];
    else this.#fault(`command ${byte.toString(16)}`);
    return 0xff;
  }

  #shift() {
    this.#setReady(false);
    this.left -= 1;
    if (this.left === 0) {
      this.step = 'command';
      this.readings += 1;
    }
    return (this.shifting >> (8 * this.left)) & 0xff;
  }

  #registerByte(act) {
    if (this.place > 3) this.#fault(`register ${this.place}`);
    const byte = act() ?? 0xff;
    this.place += 1;
    this.left -= 1;
    if (this.left === 0) {
      if (this.step === 'write') {
        this.settings.push(this.registers);
        this.setAtNs = this.clock.nanos;
        this.conversions = 0;
        if (this.running) this.#restart();
      }
      this.step = 'command';
    }
    return byte;
  }

  #write(byte) {
    this.register[this.place & 3] = byte;
  }

  #begin() {
    this.#restart();
    this.onStart?.(this);
  }

  #restart() {
    this.running = true;
    this.#setReady(false);
    this.dueNs = this.clock.nanos;
    this.#schedule();
  }

  #stop() {
    this.running = false;
    for (const alarm of [this.rise, this.fall]) alarm.cancel();
  }

  #schedule() {
    // From the last one's own moment: the core's instructions, which may end a little after it, do not add up.
    this.dueNs += 1e9 / (this.rateHz * (1 + this.oscillatorError));
    const waitNs = this.dueNs - this.clock.nanos;
    this.rise.schedule(waitNs - HIGH_BEFORE_NS);
    this.fall.schedule(waitNs);
  }

  get rateHz() {
    const turbo = ((this.register[1] >> 3) & 3) === 2;
    return (RATES_HZ[this.register[1] >> 5] ?? NaN) * (turbo ? 2 : 1);
  }

  /** Whether it is set to the bridge's signal, without burn-out currents. */
  get readsBridge() {
    return this.register[0] >> 4 === 3 && !(this.register[1] & 3);
  }

  #convert() {
    if (!this.running) return;
    const counts = this.counts && this.readsBridge ? this.counts(this.conversions++, this.clock.nanos) : this.#measure();
    this.result = Math.max(LOWEST, Math.min(FULL_SCALE, Math.round(counts))) & 0xffffff;
    if (!this.silent) this.#setReady(true);
    if (this.register[1] & 4) this.#schedule();
    else this.running = false;
  }

  #measure() {
    const [r0, r1, r2] = this.register;
    const { bridge } = this;
    if (r1 & 2) return Math.round(bridge.temperatureC / 0.03125) << 10;
    const gain = 1 << ((r0 >> 1) & 7);
    const excitationV = r2 & 8 ? bridge.supplyV : 0; // through the low-side switch
    const referenceV = this.#reference(r2 >> 6, excitationV);
    const volts = this.#input(r0 >> 4, excitationV, (r1 & 1) === 1);
    return ((volts * gain) / referenceV) * (FULL_SCALE + 1);
  }

  #reference(kind, excitationV) {
    if (kind === REFERENCE.internal) return INTERNAL_V;
    if (kind === REFERENCE.bridge) return excitationV;
    return this.bridge.supplyV;
  }

  #input(mux, excitationV, burnOut) {
    const { bridge } = this;
    switch (mux) {
      case 0b0011: return this.#signal(excitationV, burnOut);
      case 0b1001: return bridge.open === 'supply' ? 0 : bridge.supplyV / 2;
      case 0b1101: return bridge.supplyV / 4;
      case 0b1110: return bridge.offsetV;
      default:
        this.#fault(`input ${mux} is not wired`);
        return 0;
    }
  }

  /** Without its supply a bridge joins both wires. */
  #signal(excitationV, burnOut) {
    const { bridge } = this;
    if (bridge.open === 'signal') return this.#openWire(burnOut);
    if (burnOut) return 3.5e-3;
    return (bridge.open === 'supply' ? 0 : bridge.ratio(this.clock.nanos) * excitationV) + bridge.offsetV;
  }

  /** An open wire floats to the far rail; the current takes it from there to the other. Mean over the conversion. */
  #openWire(burnOut) {
    const half = this.bridge.supplyV / 2;
    if (!burnOut) return -half;
    const middleNs = this.clock.nanos - 0.5e9 / this.rateHz;
    return Math.min(half, -half + OPEN_WIRE_V_PER_NS * (middleNs - this.setAtNs));
  }

  #setReady(ready) {
    this.wires.set(this.dataReady, !ready);
  }
}
