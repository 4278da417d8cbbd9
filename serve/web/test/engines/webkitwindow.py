"""A window with nothing in it but WebKitGTK, of exactly the size asked for, driven by WebKitWebDriver.

WebKit's own small browser cannot be narrower than its bar of buttons. The environment says how
large (WINDOW_SIZE, as 390x844), through which proxy (WINDOW_PROXY), in which colors
(WINDOW_DARK, 1 or 0), and which script runs before those of each page (WINDOW_BEFORE).
"""
import os

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # noqa: E402


def content():
    manager = WebKit2.UserContentManager()
    script = os.environ.get("WINDOW_BEFORE", "")
    if script:
        manager.add_script(WebKit2.UserScript.new(
            script, WebKit2.UserContentInjectedFrames.ALL_FRAMES, WebKit2.UserScriptInjectionTime.START, None, None))
    return manager


def context():
    data = WebKit2.WebsiteDataManager.new_ephemeral()
    data.set_tls_errors_policy(WebKit2.TLSErrorsPolicy.IGNORE)
    # No names that go by themselves: also what is on this machine is asked for by the proxy.
    proxy = WebKit2.NetworkProxySettings.new(os.environ["WINDOW_PROXY"], None)
    data.set_network_proxy_settings(WebKit2.NetworkProxyMode.CUSTOM, proxy)
    made = WebKit2.WebContext(website_data_manager=data)
    made.set_automation_allowed(True)
    return made


def main():
    Gtk.Settings.get_default().set_property("gtk-application-prefer-dark-theme", os.environ.get("WINDOW_DARK") == "1")
    settings = WebKit2.Settings()
    settings.set_enable_write_console_messages_to_stdout(True)
    settings.set_hardware_acceleration_policy(WebKit2.HardwareAccelerationPolicy.NEVER)
    ctx = context()
    view = WebKit2.WebView(web_context=ctx, is_controlled_by_automation=True, settings=settings, user_content_manager=content())

    def started(_, session):
        info = WebKit2.ApplicationInfo()
        info.set_name("window")
        info.set_version(1, 0, 0)
        session.set_application_info(info)
        session.connect("create-web-view", lambda _: view)

    ctx.connect("automation-started", started)
    width, height = map(int, os.environ["WINDOW_SIZE"].split("x"))
    window = Gtk.Window()
    window.set_decorated(False)
    window.set_default_size(width, height)
    window.move(0, 0)
    window.add(view)
    window.show_all()
    window.connect("destroy", Gtk.main_quit)
    Gtk.main()


main()
