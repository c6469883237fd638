"""The public conformance suite for kernels (Debian's python3-jupyter-kernel-test), every optional part declared."""
import unittest
import jupyter_kernel_test


class UpneckKernel(jupyter_kernel_test.KernelTests):
    kernel_name = "upneck"
    language_name = "typescript"
    file_extension = ".ts"
    code_hello_world = "console.log('hello, world');"
    code_stderr = "console.error('oops');"
    completion_samples = [
        {"text": "Math.sq", "matches": {"sqrt"}},
        {"text": "const zz = [1]; zz.flatM", "matches": {"flatMap"}},
    ]
    complete_code_samples = ["1", "const a = [1,\n2];", "function f() {\n  return 1;\n}"]
    incomplete_code_samples = ["function f() {", "[1,", "`open", "/* open"]
    invalid_code_samples = ["const = 1", "a b c"]
    code_generate_error = "throw new Error('no');"
    code_execute_result = [
        {"code": "1 + 2", "result": "3"},
        {"code": "const n: number = 6; n * 7", "result": "42"},
        {"code": "'text'", "result": "text"},
    ]
    code_display_data = [
        {"code": "display(mime.html('<b>x</b>'))", "mime": "text/html"},
        {"code": "display(mime.svg('<svg/>'))", "mime": "image/svg+xml"},
        {"code": "display(mime.markdown('*x*'))", "mime": "text/markdown"},
    ]
    code_history_pattern = "1*2*"
    supported_history_operations = ("tail", "range", "search")
    code_inspect_sample = "parseFloat"
    code_page_something = "parseFloat?"
    code_clear_output = "display.clear()"


if __name__ == "__main__":
    unittest.main()
