/* Wine of Debian 12 has no bcryptprimitives.dll, of which the standard library wants one function: random bytes. For the
   tests under Wine alone; Windows brings its own. */
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID buffer, ULONG length);

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE data, SIZE_T length)
{
    return SystemFunction036(data, (ULONG)length);
}
