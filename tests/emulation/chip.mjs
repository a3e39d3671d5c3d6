// An image and a flash memory come in; a running RP2040 in virtual time comes out.
//
// rp2040js emulates core, bus and peripherals. This file starts it without a boot ROM, mends what the image relies on
// and 1.4.1 gets wrong, adds the ROM's flash routines with the times a real flash takes and the waits for reads of the flash, and
// counts what the core does.

import { RP2040 } from 'rp2040js';
import { romTable, romCall } from './boot_rom.mjs';
import { FlashCache } from './cache.mjs';
import { FLASH_BASE } from './flash.mjs';

const RAM_BASE = 0x20000000;
const VECTORS = FLASH_BASE + 0x100;
const ROM_END = 0x4000;
const TIMER_RAW_LOW = 0x28;
const TIMER_ALARM_1 = 0x14;
const WATCHDOG = 0x40058;
const TIMER = 0x40054;
const CHIP_RESET = 0x40064;
const SSI = 0x18000;
const ADC = 0x4004c;
const DIODE = 4;
const UNTOUCHED = 0xa5a5a5a5;
const FLASH_END = FLASH_BASE + 0x4000000;
/** Cycles from an interrupt to its first instruction (Cortex-M0+, from memory); as many are reckoned for the way back. */
const EXCEPTION_CYCLES = 15;
/** The core fetches words, one ahead of the instruction it executes. */
const AHEAD = 4;

/** Why the chip starts: what its reset registers say afterwards. */
export const CAUSE = {
  powerOn: { chipReset: 1 << 8, watchdogReason: 0 },
  watchdog: { chipReset: 0, watchdogReason: 1 },
  requested: { chipReset: 0, watchdogReason: 2 },
  runPin: { chipReset: 1 << 16, watchdogReason: 0 },
};

export class Chip {
  /** `clock` goes on over a reset; `timerStartUs` is what the chip's timer shows at its start. */
  constructor({ elf, flash, clock, cause = CAUSE.powerOn, timerStartUs = 0 }) {
    this.clock = clock;
    [this.mcu, this.alarms] = withItsAlarms(clock);
    this.core = this.mcu.core;
    this.flash = flash;
    this.halted = null;
    this.complaints = new Map();
    this.work = { instructions: 0, asleepNs: 0, byException: new Float64Array(64), flashReads: new Float64Array(64), stallCycles: 0 };
    this.onWatchdog = () => this.halt('the watchdog bit and nobody restarts the chip');
    this.onStamp = null;
    this.onDue = null;
    this.#listenToComplaints();
    this.#start(elf);
    this.#mendInterrupts();
    this.#modelFlashReads();
    this.#mendTimer(timerStartUs);
    this.#modelResetCause(cause);
    this.#modelFlashBus();
    this.#modelSupply();
    this.#cacheInputs();
  }

  halt(why) {
    this.halted ??= `${why} (pc ${this.core.PC.toString(16)}, lr ${this.core.LR.toString(16)})`;
  }

  /** Runs until a virtual time in nanoseconds. */
  runUntil(endNs) {
    const { core, clock, work } = this;
    while (clock.nanos < endNs && !this.halted) {
      if (core.waiting) this.#sleep(endNs);
      else if (core.PC < ROM_END) this.#callRom();
      else {
        if (!this.flash.readable && core.PC >= FLASH_BASE && core.PC < RAM_BASE) {
          this.halt('executed from flash while it is being written');
          return;
        }
        const exception = core.IPSR;
        const cycles = core.executeInstruction() + this.waits;
        this.waits = 0;
        work.instructions += 1;
        work.byException[exception] += 1;
        clock.tick((cycles * 1e9) / this.mcu.clkSys);
      }
    }
  }

  /** Deepest stack so far, bytes. */
  stackUsed(elf) {
    const bottom = elf.symbols.get('__sheap') - RAM_BASE;
    const top = elf.symbols.get('_stack_start') - RAM_BASE;
    let at = bottom;
    while (at < top && this.mcu.sramView.getUint32(at, true) === UNTOUCHED) at += 4;
    return top - at;
  }

  /** Memory that the start of the program neither clears nor fills. */
  uninitialised(elf) {
    const [from, to] = ['__suninit', '__euninit'].map((name) => elf.symbols.get(name) - RAM_BASE);
    return this.mcu.sram.subarray(from, to);
  }

  /** Registers that a reset leaves alone, as long as there is power. */
  get scratch() {
    return this.mcu.peripherals[WATCHDOG].scratchData;
  }

  /** Cuts this chip off its clock: a reset or the end of power. */
  stop() {
    this.halted ??= 'stopped';
    for (const alarm of this.alarms) {
      alarm.cancel();
      alarm.schedule = () => {};
    }
  }

  #sleep(endNs) {
    const { clock, core } = this;
    const next = clock.nextAlarm ? Math.min(clock.nextAlarm.nanos, endNs) : endNs;
    const step = Math.max(0, next - clock.nanos);
    this.work.asleepNs += step;
    clock.tick(step);
    if (core.interruptsUpdated && core.checkForInterrupts()) core.waiting = false;
  }

  #callRom() {
    const cycles = romCall(this);
    if (cycles === null) return;
    this.core.PC = this.core.LR & ~1;
    this.clock.tick((cycles * 1e9) / this.mcu.clkSys);
  }

  /** The emulator's warnings say that the image used something it does not model: kept, so a test can refuse them. */
  #listenToComplaints() {
    const keep = (source, message) => {
      const line = `${source}: ${message}`;
      this.complaints.set(line, (this.complaints.get(line) ?? 0) + 1);
      if (message.startsWith('Warning: Instruction')) this.halt(message);
    };
    this.mcu.logger = { debug() {}, info() {}, warn: keep, error: keep };
    this.mcu.onBreak = (code) => this.halt(`breakpoint ${code}`);
  }

  /** What the boot ROM and its second stage do last: vector table, stack pointer, entry point. */
  #start(elf) {
    this.mcu.flash = this.flash.bytes;
    this.mcu.flash16 = new Uint16Array(this.flash.bytes.buffer);
    this.mcu.flashView = new DataView(this.flash.bytes.buffer);
    if (elf) this.flash.load(elf);
    new Uint32Array(this.mcu.sram.buffer).fill(UNTOUCHED);
    romTable(new DataView(this.mcu.bootrom.buffer));
    this.core.VTOR = VECTORS;
    this.core.SP = this.mcu.readUint32(VECTORS);
    this.core.PC = this.mcu.readUint32(VECTORS + 4) & ~1;
  }

  /** The core waits for what it reads in the flash, instruction or data, and for its way into an interrupt and back. */
  #modelFlashReads() {
    const { core, mcu, work } = this;
    this.waits = 0;
    this.cache = new FlashCache();
    const read = (address) => {
      if (address < FLASH_BASE || address >= FLASH_END) return;
      work.flashReads[core.IPSR] += 1;
      const cycles = this.cache.read(address);
      this.waits += cycles;
      work.stallCycles += cycles;
    };
    core.readUint32 = (address) => (read(address), mcu.readUint32(address));
    core.readUint8 = (address) => (read(address), mcu.readUint8(address));
    core.readUint16 = (address) => {
      read(address);
      // Data that is read as half-words is not fetched ahead of.
      if (address === (core.PC & ~1)) read((address & ~3) + AHEAD);
      return mcu.readUint16(address);
    };
    const [enter, leave] = [core.exceptionEntry, core.exceptionReturn].map((f) => f.bind(core));
    core.exceptionEntry = (number) => {
      this.waits += EXCEPTION_CYCLES;
      enter(number);
    };
    core.exceptionReturn = (value) => {
      this.waits += EXCEPTION_CYCLES;
      leave(value);
    };
  }

  /** An interrupt pended by software ends with its handler, and WFI with interrupts masked wakes without one. */
  #mendInterrupts() {
    const { core } = this;
    const [set, enter, check] = [core.setInterrupt, core.exceptionEntry, core.checkForInterrupts].map((f) => f.bind(core));
    let levels = 0;
    core.setInterrupt = (irq, level) => {
      levels = level ? levels | (1 << irq) : levels & ~(1 << irq);
      set(irq, level);
    };
    core.exceptionEntry = (number) => {
      const irq = number - 16;
      if (irq >= 0 && !(levels & (1 << irq))) core.pendingInterrupts &= ~(1 << irq);
      enter(number);
      core.PC &= ~1; // the vector's Thumb bit, which would count in every address reckoned from the program counter
    };
    core.checkForInterrupts = () =>
      core.waiting && core.PM ? (core.pendingInterrupts & core.enabledInterrupts) !== 0 : check();
  }

  /** The timer starts with the chip, not with the clock; reading its low half is how the image takes a stamp. */
  #mendTimer(startUs) {
    const { clock } = this;
    const offsetNs = startUs * 1000 - clock.nanos;
    const timer = this.mcu.peripherals[TIMER];
    timer.clock = { get nanos() { return clock.nanos + offsetNs; } };
    const [read, write] = [timer.readUint32.bind(timer), timer.writeUint32.bind(timer)];
    timer.writeUint32 = (offset, value) => {
      if (offset === TIMER_ALARM_1) this.onDue?.((value - read(TIMER_RAW_LOW)) >>> 0);
      write(offset, value);
    };
    timer.readUint32 = (offset) => {
      if (offset === TIMER_RAW_LOW && this.onStamp) this.onStamp(this.core.IPSR);
      return read(offset);
    };
  }

  #modelResetCause({ chipReset, watchdogReason }) {
    const watchdog = this.mcu.peripherals[WATCHDOG];
    watchdog.reason = watchdogReason;
    watchdog.onWatchdogTrigger = () => {
      if (!this.halted) this.onWatchdog();
    };
    const block = this.mcu.peripherals[CHIP_RESET];
    block.readUint32 = (offset) => (offset === 8 ? chipReset : 0);
    block.writeUint32 = () => {};
  }

  /** The flash answers commands of its own while it is not mapped into memory. */
  #modelFlashBus() {
    const ssi = this.mcu.peripherals[SSI];
    this.flash.connect(ssi);
  }

  /** The chip's converter measures its diode against the supply. */
  #modelSupply() {
    const { rail } = this.flash;
    Object.defineProperty(this.mcu.peripherals[ADC].channelValues, DIODE, { get: () => rail.diode });
  }

  /** The input register is read far more often than a pin changes. */
  #cacheInputs() {
    const all = Object.getOwnPropertyDescriptor(RP2040.prototype, 'gpioValues').get;
    let [values, stale] = [0, true];
    for (const pin of this.mcu.gpio) {
      const set = pin.setInputValue.bind(pin);
      pin.setInputValue = (level) => {
        stale = true;
        set(level);
      };
    }
    Object.defineProperty(this.mcu, 'gpioValues', {
      get: () => {
        if (stale) [values, stale] = [all.call(this.mcu), false];
        return values;
      },
    });
  }
}

/** A new chip on a clock that goes on, and the alarms that are its own. */
function withItsAlarms(clock) {
  const alarms = [];
  clock.createAlarm = (callback) => {
    const alarm = Object.getPrototypeOf(clock).createAlarm.call(clock, callback);
    alarms.push(alarm);
    return alarm;
  };
  const mcu = new RP2040(clock);
  delete clock.createAlarm;
  return [mcu, alarms];
}
