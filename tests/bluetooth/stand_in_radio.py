"""A stand-in for org.bluez on a private D-Bus, with one sensor in reach: enough for the Linux Bluetooth
stack of Chromium to list, connect, discover, subscribe, and be notified, without a radio.

    python3 stand_in_radio.py <bus address> <sensor.json>

The sensor takes packet k of its list (hex, one list for ever) at k + 1 packet intervals after it was
switched on, and notifies it then if somebody is subscribed; what nobody hears is lost, as with a real
sensor without memory. Commands come as JSON lines on standard input, and what happens goes out as JSON
lines on standard output: {"event": "ready"}, "connect", "subscribe", "unsubscribe", "write", "read",
"disconnect", and {"event": "sent", "packet": k} for every notification.

Interfaces and properties as in doc/org.bluez.*.rst of the BlueZ sources.
"""

import json
import os
import sys
import time

import dbus
import dbus.mainloop.glib
import dbus.service
from gi.repository import GLib

PROPERTIES = "org.freedesktop.DBus.Properties"
OBJECTS = "org.freedesktop.DBus.ObjectManager"
ADAPTER = "org.bluez.Adapter1"
AGENTS = "org.bluez.AgentManager1"
DEVICE = "org.bluez.Device1"
SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"
# Without its Client Characteristic Configuration descriptor Chromium refuses to subscribe.
CCCD = "00002902-0000-1000-8000-00805f9b34fb"
ADAPTER_PATH = "/org/bluez/hci0"
DEVICE_PATH = ADAPTER_PATH + "/dev_00_11_22_33_44_55"


def tell(event, **more):
    print(json.dumps({"event": event, **more}), flush=True)


class Exported(dbus.service.Object):
    """An object of the bus whose properties lie in `interfaces`."""

    def __init__(self, world, path, interfaces):
        super().__init__(world.bus, path)
        self.world, self.path, self.interfaces = world, path, interfaces

    @dbus.service.method(PROPERTIES, in_signature="ss", out_signature="v")
    def Get(self, interface, name):
        return self.interfaces[interface][name]

    @dbus.service.method(PROPERTIES, in_signature="s", out_signature="a{sv}")
    def GetAll(self, interface):
        return dbus.Dictionary(self.interfaces.get(interface, {}), signature="sv")

    @dbus.service.method(PROPERTIES, in_signature="ssv")
    def Set(self, interface, name, value):
        self.change(interface, **{name: value})

    @dbus.service.signal(PROPERTIES, signature="sa{sv}as")
    def PropertiesChanged(self, interface, changed, invalidated):
        pass

    def change(self, interface, **values):
        self.interfaces[interface].update(values)
        self.PropertiesChanged(interface, dbus.Dictionary(values, signature="sv"), [])

    def described(self):
        return dbus.Dictionary(
            {name: dbus.Dictionary(values, signature="sv") for name, values in self.interfaces.items()},
            signature="sa{sv}",
        )


class Root(dbus.service.Object):
    def __init__(self, world):
        super().__init__(world.bus, "/")
        self.world = world

    @dbus.service.method(OBJECTS, out_signature="a{oa{sa{sv}}}")
    def GetManagedObjects(self):
        return dbus.Dictionary(
            {dbus.ObjectPath(one.path): one.described() for one in self.world.visible()},
            signature="oa{sa{sv}}",
        )

    @dbus.service.signal(OBJECTS, signature="oa{sa{sv}}")
    def InterfacesAdded(self, path, interfaces):
        pass

    @dbus.service.signal(OBJECTS, signature="oas")
    def InterfacesRemoved(self, path, interfaces):
        pass


class Agents(Exported):
    @dbus.service.method(AGENTS, in_signature="os")
    def RegisterAgent(self, agent, capability):
        pass

    @dbus.service.method(AGENTS, in_signature="o")
    def UnregisterAgent(self, agent):
        pass

    @dbus.service.method(AGENTS, in_signature="o")
    def RequestDefaultAgent(self, agent):
        pass


class Adapter(Exported):
    @dbus.service.method(ADAPTER)
    def StartDiscovery(self):
        self.change(ADAPTER, Discovering=True)
        GLib.timeout_add(200, self.advertise)

    def advertise(self):
        if self.world.present:
            self.world.device.change(DEVICE, RSSI=dbus.Int16(-50))
        return bool(self.interfaces[ADAPTER]["Discovering"])

    @dbus.service.method(ADAPTER)
    def StopDiscovery(self):
        self.change(ADAPTER, Discovering=False)

    @dbus.service.method(ADAPTER, in_signature="a{sv}")
    def SetDiscoveryFilter(self, what):
        pass

    @dbus.service.method(ADAPTER, in_signature="o")
    def RemoveDevice(self, path):
        pass


class Device(Exported):
    """`reach` says what a connection attempt meets: "open"; "refuse"; or "hang", until it is "open" again."""

    reach = "open"

    def __init__(self, *rest):
        super().__init__(*rest)
        self.hanging = []

    @dbus.service.method(DEVICE, async_callbacks=("reply", "fail"))
    def Connect(self, reply, fail):
        tell("connect", reach=self.reach)
        if self.reach == "refuse":
            fail(dbus.DBusException("le-connection-abort-by-local", name="org.bluez.Error.Failed"))
        else:
            self.hanging.append(reply)
            self.let_in()

    def let_in(self):
        """What hangs succeeds when the sensor comes into reach, as a pending connection of a radio does."""
        if self.reach != "open" or not self.hanging:
            return
        self.change(DEVICE, Connected=True)
        GLib.timeout_add(30, self.resolve)
        for reply in self.hanging:
            reply()
        self.hanging = []

    def resolve(self):
        if self.interfaces[DEVICE]["Connected"]:
            self.change(DEVICE, ServicesResolved=True)
        return False

    @dbus.service.method(DEVICE)
    def Disconnect(self):
        self.lose("asked")

    @dbus.service.method(DEVICE)
    def Pair(self):
        pass

    def lose(self, why):
        if not self.interfaces[DEVICE]["Connected"]:
            return
        tell("disconnect", why=why)
        # In this order: otherwise Chromium takes the next subscription for one that still lasts.
        for one in self.world.characteristics:
            one.change(CHARACTERISTIC, Notifying=False)
        self.change(DEVICE, ServicesResolved=False)
        self.change(DEVICE, Connected=False)


class Characteristic(Exported):
    @property
    def uuid(self):
        return str(self.interfaces[CHARACTERISTIC]["UUID"])

    @property
    def notifying(self):
        return bool(self.interfaces[CHARACTERISTIC]["Notifying"])

    @dbus.service.method(CHARACTERISTIC, in_signature="a{sv}", out_signature="ay")
    def ReadValue(self, options):
        tell("read", uuid=self.uuid)
        return dbus.ByteArray(bytes(self.interfaces[CHARACTERISTIC]["Value"]))

    @dbus.service.method(CHARACTERISTIC, in_signature="aya{sv}")
    def WriteValue(self, value, options):
        tell("write", uuid=self.uuid, bytes=bytes(value).hex())

    @dbus.service.method(CHARACTERISTIC)
    def StartNotify(self):
        self.change(CHARACTERISTIC, Notifying=True)
        tell("subscribe", uuid=self.uuid)

    @dbus.service.method(CHARACTERISTIC)
    def StopNotify(self):
        self.change(CHARACTERISTIC, Notifying=False)
        tell("unsubscribe", uuid=self.uuid)

    def notify(self, value):
        self.change(CHARACTERISTIC, Value=dbus.Array(value, signature="y"))


class Sensor:
    """Takes its packets by the clock, and is disturbed by commands."""

    def __init__(self, world, packets, interval_s):
        self.world, self.packets, self.interval_s = world, packets, interval_s
        self.switch_on()

    def switch_on(self):
        self.since_s = time.monotonic()
        self.next_packet = 0
        self.losing = self.repeating = 0
        self.silent_until_s = 0.0
        self.kept = None

    def stall(self, seconds, keeps):
        """`keeps`: what is taken meanwhile comes afterwards in one burst; otherwise it is lost."""
        self.silent_until_s = time.monotonic() + seconds
        self.kept = [] if keeps else None

    def run(self):
        now_s = time.monotonic()
        due = min(int((now_s - self.since_s) / self.interval_s), len(self.packets))
        silent = now_s < self.silent_until_s
        if not silent and self.kept:
            for packet in self.kept:
                self.send(packet)
            self.kept = None
        while self.next_packet < due:
            packet, self.next_packet = self.next_packet, self.next_packet + 1
            if silent:
                if self.kept is not None:
                    self.kept.append(packet)
            elif self.losing > 0:
                self.losing -= 1
            else:
                self.send(packet)
                if self.repeating > 0:
                    self.repeating -= 1
                    self.send(packet)
        return True

    def send(self, packet):
        if self.world.stream.notifying:
            self.world.stream.notify(self.packets[packet])
            tell("sent", packet=packet)


class World:
    """The bus with the adapter, the sensor and its services as `sensor.json` describes them."""

    def __init__(self, address, plan):
        self.bus = dbus.bus.BusConnection(address)
        self.present = plan.get("present", True)
        self.root = Root(self)
        self.fixed = [Agents(self, "/org/bluez", {AGENTS: {}}), self.make_adapter()]
        self.device = self.make_device(plan)
        self.attributes = []
        self.characteristics = []
        for number, service in enumerate(plan["services"]):
            self.add_service(number, service)
        self.stream = next(one for one in self.characteristics if one.uuid == plan["stream"])
        packets = [bytes.fromhex(line) for line in plan["packets"]]
        self.sensor = Sensor(self, packets, plan["packetIntervalS"])
        self.name = dbus.service.BusName("org.bluez", self.bus)

    def visible(self):
        return self.fixed + (self.of_sensor() if self.present else [])

    def of_sensor(self):
        return [self.device, *self.attributes]

    def make_adapter(self):
        return Adapter(
            self,
            ADAPTER_PATH,
            {
                ADAPTER: {
                    "Address": "00:1A:7D:DA:71:13",
                    "AddressType": "public",
                    "Name": "stand-in",
                    "Alias": "stand-in",
                    "Class": dbus.UInt32(0),
                    "Powered": True,
                    "Discoverable": False,
                    "DiscoverableTimeout": dbus.UInt32(0),
                    "Pairable": False,
                    "PairableTimeout": dbus.UInt32(0),
                    "Discovering": False,
                    "UUIDs": dbus.Array([], signature="s"),
                    "Modalias": "usb:v1D6Bp0246d0542",
                    "Roles": dbus.Array(["central"], signature="s"),
                }
            },
        )

    def make_device(self, plan):
        return Device(
            self,
            DEVICE_PATH,
            {
                DEVICE: {
                    "Address": "00:11:22:33:44:55",
                    "AddressType": "random",
                    "Name": plan["name"],
                    "Alias": plan["name"],
                    "Paired": False,
                    "Bonded": False,
                    "Trusted": False,
                    "Blocked": False,
                    "LegacyPairing": False,
                    "RSSI": dbus.Int16(-50),
                    "TxPower": dbus.Int16(0),
                    "Connected": False,
                    "ServicesResolved": False,
                    "UUIDs": dbus.Array(plan["advertised"], signature="s"),
                    "Adapter": dbus.ObjectPath(ADAPTER_PATH),
                }
            },
        )

    def add_service(self, number, service):
        path = f"{DEVICE_PATH}/service{number:02x}00"
        self.attributes.append(
            Exported(
                self,
                path,
                {
                    SERVICE: {
                        "UUID": service["uuid"],
                        "Device": dbus.ObjectPath(DEVICE_PATH),
                        "Primary": True,
                        "Includes": dbus.Array([], signature="o"),
                    }
                },
            )
        )
        for position, one in enumerate(service["characteristics"], start=1):
            self.add_characteristic(path, f"{path}/char{number:02x}{position:02x}", one)

    def add_characteristic(self, service_path, path, one):
        characteristic = Characteristic(
            self,
            path,
            {
                CHARACTERISTIC: {
                    "UUID": one["uuid"],
                    "Service": dbus.ObjectPath(service_path),
                    "Value": dbus.Array(bytes.fromhex(one.get("value", "")), signature="y"),
                    "Notifying": False,
                    "Flags": dbus.Array(one["flags"], signature="s"),
                    "MTU": dbus.UInt16(247),
                }
            },
        )
        self.characteristics.append(characteristic)
        self.attributes.append(characteristic)
        if "notify" in one["flags"]:
            descriptor = {
                "UUID": CCCD,
                "Characteristic": dbus.ObjectPath(path),
                "Value": dbus.Array([], signature="y"),
            }
            self.attributes.append(Exported(self, path + "/desc01", {DESCRIPTOR: descriptor}))

    def appear(self):
        self.present = True
        for one in self.of_sensor():
            self.root.InterfacesAdded(dbus.ObjectPath(one.path), one.described())

    def vanish(self):
        self.device.lose("gone")
        self.present = False
        for one in reversed(self.of_sensor()):
            self.root.InterfacesRemoved(dbus.ObjectPath(one.path), list(one.interfaces))

    def obey(self, command):
        what = command["do"]
        if what == "appear":
            self.appear()
        elif what == "vanish":
            self.vanish()
        elif what == "reach":
            self.device.reach = command["how"]
            self.device.let_in()
        elif what == "drop":
            self.device.lose("radio")
        elif what == "reboot":
            self.device.lose("reboot")
            self.sensor.switch_on()
        elif what == "restart-counter":
            self.sensor.switch_on()
        elif what == "lose":
            self.sensor.losing += command["packets"]
        elif what == "repeat":
            self.sensor.repeating += command["packets"]
        elif what == "stall":
            self.sensor.stall(command["seconds"], command.get("keeps", False))
        elif what == "send":
            self.stream.notify(bytes.fromhex(command["bytes"]))
        else:
            raise ValueError(f"no such command: {what}")


def main():
    dbus.mainloop.glib.DBusGMainLoop(set_as_default=True)
    address, plan_path = sys.argv[1:]
    with open(plan_path) as file:
        world = World(address, json.load(file))
    loop = GLib.MainLoop()

    pending = b""

    def on_input(channel, condition):
        nonlocal pending
        got = os.read(sys.stdin.fileno(), 65536)
        if got == b"":  # whoever started us is gone
            loop.quit()
            return False
        *lines, pending = (pending + got).split(b"\n")
        for line in lines:
            command = json.loads(line)
            world.obey(command)
            tell("done", command=command["do"])
        return True

    GLib.io_add_watch(sys.stdin, GLib.IO_IN | GLib.IO_HUP, on_input)
    GLib.timeout_add(max(1, int(world.sensor.interval_s * 500)), world.sensor.run)
    tell("ready")
    loop.run()


main()
