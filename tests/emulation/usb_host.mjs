// A chip with USB comes in; bytes of its serial port go both ways, as a host's controller would carry them.
//
// rp2040js 1.4.1 hands a buffer over the moment the image arms it, so an endpoint is never full and an armed receive
// buffer looks like a packet. Here a buffer stays armed until this host collects or fills it in virtual time: 19 bulk
// packets of 64 bytes fit a frame of 1 ms. A host that does not read leaves the image's buffer full: back-pressure.

const ARMED = 0x400;
const FULL = 0x8000;
const LENGTH = 0x3ff;
const BULK_NS = 1e6 / 19;
const CONTROL_NS = 10e3;
const OUT_NS = 5e3;
const BUFFERS = 0x80;
const CLASS_DATA = 10;

const setup = (type, request, value, index, length) =>
  Uint8Array.of(type, request, value & 255, value >> 8, index & 255, index >> 8, length & 255, length >> 8);

export class UsbHost {
  constructor(clock) {
    this.clock = clock;
    this.collectors = Array.from({ length: 16 }, (_, ep) => clock.createAlarm(() => this.#collect(ep)));
    this.fillers = Array.from({ length: 16 }, (_, ep) => clock.createAlarm(() => this.#fill(ep)));
    this.later = clock.createAlarm(() => this.#nextControl?.());
    this.reading = true;
    this.present = true;
    this.onBytes = () => {};
    this.onConfigured = () => {};
    this.outgoing = [];
  }

  /** Plugs a chip in. */
  attach(chip) {
    this.chip = chip;
    this.usb = chip.mcu.usbCtrl;
    this.view = chip.mcu.usbDPRAMView;
    this.#forget();
    let enabled = false;
    this.usb.DPRAMUpdated = (offset, value) => this.#armed(offset, value);
    this.usb.onUSBEnabled = () => {
      if (!enabled && this.present) this.usb.resetDevice();
      enabled = true;
    };
    this.usb.onResetReceived = () => this.#enumerate();
  }

  /** Sends bytes to the device, now or as soon as it is configured. */
  send(bytes) {
    this.outgoing.push(...bytes);
    if (this.out > 0) this.fillers[this.out].schedule(OUT_NS);
  }

  /** Stops or resumes reading, as a program that does not get to its port. */
  setReading(reading) {
    this.reading = reading;
    if (reading && this.waiting) {
      this.waiting = false;
      this.#collect(this.in);
    }
  }

  /** Takes the cable out, the device keeping its power. */
  unplug() {
    this.present = false;
    for (const alarm of [...this.collectors, ...this.fillers, this.later]) alarm.cancel();
    this.#forget();
  }

  /** Puts it back: bus reset and a new enumeration. */
  plug() {
    this.present = true;
    this.usb.resetDevice();
  }

  #nextControl = null;
  #transfer = null;
  #statusDue = false;
  #ep0Size = 8;

  #forget() {
    [this.in, this.out, this.configured, this.waiting] = [-1, -1, false, false];
    [this.#nextControl, this.#transfer, this.#statusDue, this.#ep0Size] = [null, null, false, 8];
    this.outgoing = [];
  }

  #armed(offset, value) {
    if (offset < BUFFERS || offset > 0xfc || !(value & ARMED) || !this.present) return;
    const ep = (offset - BUFFERS) >> 3;
    if (ep > 0 && !this.configured) return; // nobody asks an endpoint before the device is configured
    if (offset & 4) this.fillers[ep].schedule(OUT_NS);
    else this.collectors[ep].schedule(ep === this.in ? BULK_NS : CONTROL_NS);
  }

  #collect(ep) {
    if (ep === this.in && !this.reading) {
      this.waiting = true;
      return;
    }
    const [at, value] = this.#control(ep, false);
    if (!(value & ARMED)) return;
    const from = this.usb.getEndpointBufferOffset(ep, false);
    const bytes = this.chip.mcu.usbDPRAM.slice(from, from + (value & LENGTH));
    this.view.setUint32(at, value & ~(ARMED | FULL), true);
    this.usb.indicateBufferReady(ep, false);
    if (ep === this.in) this.onBytes(bytes);
    else if (ep === 0) this.#controlData(bytes);
  }

  #fill(ep) {
    const [at, value] = this.#control(ep, true);
    if (!(value & ARMED)) return;
    const bytes = this.#outgoing(ep, value & LENGTH);
    if (!bytes) return;
    this.chip.mcu.usbDPRAM.set(bytes, this.usb.getEndpointBufferOffset(ep, true));
    this.view.setUint32(at, (value & ~(ARMED | LENGTH)) | FULL | bytes.length, true);
    this.usb.indicateBufferReady(ep, true);
  }

  #outgoing(ep, room) {
    if (ep === 0 && this.#statusDue) {
      this.#statusDue = false;
      return [];
    }
    return ep === this.out && this.outgoing.length ? this.outgoing.splice(0, room) : null;
  }

  #control(ep, out) {
    const at = BUFFERS + ep * 8 + (out ? 4 : 0);
    return [at, this.view.getUint32(at, true)];
  }

  #controlData(bytes) {
    const transfer = this.#transfer;
    if (!transfer) return;
    transfer.data.push(...bytes);
    if (transfer.data.length < transfer.want && bytes.length === this.#ep0Size) return;
    this.#transfer = null;
    this.#statusDue = transfer.want > 0;
    if (this.#statusDue) this.fillers[0].schedule(OUT_NS);
    this.#nextControl = () => transfer.done(transfer.data);
    this.later.schedule(5 * CONTROL_NS);
  }

  #ask(packet, done) {
    const want = packet[0] & 0x80 ? packet[6] | (packet[7] << 8) : 0;
    this.#transfer = { want, data: [], done };
    this.usb.sendSetupPacket(packet);
  }

  #descriptor(kind, index, language, length, done) {
    this.#ask(setup(0x80, 6, (kind << 8) | index, language, length), done);
  }

  #enumerate() {
    this.#ask(setup(0, 5, 1, 0, 0), () =>
      this.#descriptor(1, 0, 0, 18, (device) => {
        this.#ep0Size = device[7];
        this.device = { vendor: device[8] | (device[9] << 8), product: device[10] | (device[11] << 8) };
        this.#string(device[15], (name) => {
          this.device.name = name;
          this.#string(device[16], (serial) => {
            this.device.serial = serial;
            this.#configure();
          });
        });
      }));
  }

  #string(index, done) {
    this.#descriptor(3, index, 0x409, 255, (data) => done(Buffer.from(data.slice(2)).toString('utf16le')));
  }

  #configure() {
    this.#descriptor(2, 0, 0, 255, (data) => {
      this.#findEndpoints(data);
      this.#ask(setup(0, 9, 1, 0, 0), () =>
        // Control line state: terminal ready, as an opened port says.
        this.#ask(setup(0x21, 0x22, 3, 0, 0), () => {
          this.configured = true;
          this.collectors[this.in].schedule(BULK_NS);
          if (this.outgoing.length) this.fillers[this.out].schedule(OUT_NS);
          this.onConfigured();
        }));
    });
  }

  #findEndpoints(data) {
    for (let at = 0, kind = 0; at + 1 < data.length && data[at]; at += data[at]) {
      if (data[at + 1] === 4) kind = data[at + 5];
      if (data[at + 1] !== 5 || kind !== CLASS_DATA) continue;
      if (data[at + 2] & 0x80) this.in = data[at + 2] & 15;
      else this.out = data[at + 2] & 15;
    }
  }
}
